"""Compiles every source of the folders named; with `python -W error` a warning stops it."""

import sys
from pathlib import Path

sources = [path for folder in sys.argv[1:] for path in Path(folder).rglob("*.py")]
for path in sources:
    compile(path.read_text(encoding="utf-8"), str(path), "exec", dont_inherit=True)
print(f"{len(sources)} sources compile")
