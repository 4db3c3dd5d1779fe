"""`python -m geoprofile` is the command `geoprofile`."""

from geoprofile.cli import main

main()
