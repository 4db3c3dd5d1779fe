"""Notes on files that bear the names of an earlier layout: they are read all the same."""

from __future__ import annotations

import csv
from collections.abc import Sequence

from geoprofile.errors import Problem
from geoprofile.intake.headers import present_name
from geoprofile.intake.sources import SourceFile
from geoprofile.schema import renamed

TEXT = (".csv", ".txt", ".tsv")


def old_names(files: Sequence[SourceFile]) -> list[Problem]:
    """One note for each file or column with an earlier name."""
    notes = []
    for file in files:
        stem = (file.sheet or file.path.stem).strip().casefold().replace(" ", "_")
        if stem in renamed.TABLES or stem.removesuffix("s") in renamed.TABLES:
            notes.append(_note(file.name, file.table))
        for heading in _headings(file):
            name = heading.strip().strip('"').casefold().replace(" ", "_")
            present = present_name(name, file.table)
            if present != name:
                notes.append(_note(f"{file.name}, column {heading.strip()}", present))
    return notes


def _note(where: str, present: str) -> Problem:
    return Problem(
        where,
        f"an earlier name, read as {present}",
        f"the name {present}",
        "Rename it in the file when convenient; nothing else is to be done.",
    )


def _headings(file: SourceFile) -> Sequence[str]:
    """The first line of a text file, cut at its delimiter; none for other files."""
    if file.table not in renamed.COLUMNS or file.path.suffix.casefold() not in TEXT:
        return ()
    with file.path.open(encoding="utf-8-sig", errors="replace") as lines:
        first = lines.readline(10_000)
    delimiter = max(",;\t|", key=first.count)
    return next(csv.reader([first.rstrip("\r\n")], delimiter=delimiter), [])
