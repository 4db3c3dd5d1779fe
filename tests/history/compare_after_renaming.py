"""Compares two site files of one folder cell by cell, the first with names of an earlier layout.

    python tests/history/compare_after_renaming.py BEFORE.gpkg AFTER.gpkg

Prints every column whose cells differ, and fails if a number, a time or a shape does. Texts are
compared after their words were brought to the present ones; what is left is printed to be read.
"""

from __future__ import annotations

import re
import sqlite3
import sys
from collections.abc import Iterator
from typing import Any

from geoprofile.schema import TABLES, renamed

# bookkeeping of the run itself, and fingerprints, which count names
SKIPPED = {"run", "step", "loaded", "source_file"}
WORDS = {
    r"held[- ]head": "steady-anisotropic",
    r"hvorslev-end": "hvorslev-open-end",
    r"hvorslev-roof": "hvorslev-confining-layer",
    r"oscillating": "underdamped",
    r"glands": "packer elements",
    r"gland": "packer element",
    r"undecided volume": "volume of uncertain classification",
    r"undecided": "uncertain",
    r"\[field\]": "[model]",
    r"stages": "pressure steps",
    r"^field$": "model",
    r"^stage$": "pressure_step",
}
Rows = list[tuple[Any, ...]]


def rows_of(connection: sqlite3.Connection, table: str, columns: list[str]) -> Rows:
    """The rows of a table, empty where the file has none such."""
    listed = ", ".join(f'"{c}"' for c in columns)
    return connection.execute(f'SELECT {listed} FROM "{table}"').fetchall()


def in_present_words(value: Any) -> Any:
    """A text in the words of today."""
    if isinstance(value, str):
        for old, new in WORDS.items():
            value = re.sub(old, new, value)
    return value


def differences(before: str, after: str) -> Iterator[tuple[str, str, Any, Any]]:
    """Table, column and both values, for every cell that differs."""
    old_tables = {new: old for old, new in renamed.TABLES.items()}
    with sqlite3.connect(before) as first, sqlite3.connect(after) as second:
        for table in [t for t in TABLES if t not in SKIPPED]:
            old_columns = {new: old for old, new in renamed.COLUMNS.get(table, {}).items()}
            new = [r[1] for r in second.execute(f'PRAGMA table_info("{table}")')]
            new = [c for c in new if c not in ("fid", "run", "forecast", "advice")]
            old = [old_columns.get(c, c) for c in new]
            one = rows_of(first, old_tables.get(table, table), old)
            other = rows_of(second, table, new)
            one = [tuple(map(in_present_words, row)) for row in one]
            if table in ("conductivity", "finding"):  # their order follows names
                one, other = sorted(one, key=repr), sorted(other, key=repr)
            if len(one) != len(other):
                yield table, "number of rows", len(one), len(other)
            for a, b in zip(one, other, strict=False):
                yield from ((table, c, u, v) for c, u, v in zip(new, a, b, strict=True) if u != v)


def main() -> int:
    """1 if anything but words differs."""
    found = list(differences(*sys.argv[1:3]))
    for table, column, old, new in found:
        print(f"{table}.{column}: {old!r:.200} -> {new!r:.200}")
    wrong = [f for f in found if not (isinstance(f[2], str) and isinstance(f[3], str))]
    print(f"{len(found)} cells differ, {len(wrong)} of them not in words alone")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
