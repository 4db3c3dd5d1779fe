"""Write the reference anew."""

from __future__ import annotations

from geoprofile.reference import write

for _changed in write():
    print(_changed)
