"""Reads a sheet of text into a frame with the types of the schema; every bad cell is told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import pandas as pd

from geoprofile.errors import DataError, Problem
from geoprofile.intake.frames import empty, framed
from geoprofile.intake.headers import Bound, bind
from geoprofile.intake.problems import MOST, place
from geoprofile.intake.results import read_values
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.text import Piece, Sheet
from geoprofile.intake.typed_columns import typed


def read_sheet(
    sheet: Sheet, file: SourceFile, settings: SiteSettings, problems: list[Problem]
) -> pd.DataFrame:
    """The rows of a sheet of text as a frame."""
    bound, faults = bind(sheet.header, file.table, file.name, settings)
    problems += faults
    if faults:
        return empty(file.table, bound)
    if sheet.said:
        bound = tuple(replace(b, heading=sheet.said[b.index]) for b in bound)
    pieces = _bounded(sheet.pieces, file, settings, problems)
    if file.table == "result":
        parts = [read_values(p, _about(bound, p), file.name, settings, problems) for p in pieces]
        return _joined(parts, file, bound)
    parts = [
        framed(
            typed(piece, bound, file.table, file.name, settings, problems),
            file.name,
            piece.rows,
            file.table,
        )
        for piece in pieces
    ]
    return _joined(parts, file, bound)


def _about(bound: tuple[Bound, ...], piece: Piece) -> tuple[Bound, ...]:
    """The bound columns, with the heading in a wide table from which the values come."""
    if not piece.about:
        return bound
    return tuple(replace(b, heading=piece.about) if b.name == "value" else b for b in bound)


def _bounded(
    pieces: Iterable[Piece], file: SourceFile, settings: SiteSettings, problems: list[Problem]
) -> Iterator[Piece]:
    """The pieces up to the most rows allowed; those after very many faults are not read."""
    before, count = len(problems), 0
    for piece in pieces:
        if len(problems) - before > MOST:
            problems.append(
                Problem(
                    f"{place(file.name, piece.rows[0])} and after",
                    "rows that were not read, for so many faults stand before them",
                    "a file with few faults",
                    "Correct the faults told above, which are likely one and the same, first.",
                )
            )
            return
        count += len(piece.rows)
        _check_count(count, file, settings)
        yield piece


def _check_count(count: int, file: SourceFile, settings: SiteSettings) -> None:
    if count > settings.max_rows:
        raise DataError(
            file.name,
            f"more than {settings.max_rows} rows",
            "at most that many rows in one file",
            "Split the file, thin out the readings, or raise it: [intake] max_rows in site.toml.",
        )


def _joined(parts: list[pd.DataFrame], file: SourceFile, bound: Iterable[Bound]) -> pd.DataFrame:
    if not parts:
        return empty(file.table, bound)
    return pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0]
