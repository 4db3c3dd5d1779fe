"""Rows of a plan that wait for what the crew or the laboratory brings: passed over until then."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from geoprofile.errors import Problem
from geoprofile.intake.sources import SourceFile
from geoprofile.intake.text import Piece, Sheet

MARK = "planned"  # the column that a plan adds to its blanks
# what somebody measures: a planned row in which none of it is filled in waits
MEASURED: Mapping[str, tuple[str, ...]] = {
    "water_level": ("measured_at", "depth_to_water_m"),
    "sample": ("sampled_at",),
    "result": ("value", "limit", "detected"),
    "pressure_step": ("gauge_pressure_kpa", "flow_l_min"),
}


def without_waiting(sheet: Sheet, file: SourceFile, notes: list[Problem]) -> Sheet:
    """The sheet without its column `planned` and without the planned rows that still wait.

    Parameters
    ----------
    sheet : Sheet
        Of a file.
    file : SourceFile
        Which, and the table it fills.
    notes : list of Problem
        Told, when the last piece is taken, how many rows wait.

    Returns
    -------
    Sheet
        The same where the table has no such rows or the file no such column.
    """
    names = [name.strip().casefold() for name in sheet.header]
    measured = MEASURED.get(file.table, ())
    if MARK not in names or not measured:
        return sheet
    mark = names.index(MARK)
    filled = [k for k, name in enumerate(names) if name in measured]

    def pieces() -> Iterator[Piece]:
        count = 0
        for piece in sheet.pieces:
            kept = [k for k in range(len(piece.rows)) if not _waits(piece, k, mark, filled)]
            count += len(piece.rows) - len(kept)
            yield _taken(piece, kept, mark)
        if count:
            notes.append(_told(file, count))

    header = tuple(name for k, name in enumerate(sheet.header) if k != mark)
    said = tuple(name for k, name in enumerate(sheet.said) if k != mark)
    return replace(sheet, header=header, pieces=pieces(), said=said)


def _waits(piece: Piece, row: int, mark: int, measured: Sequence[int]) -> bool:
    planned = piece.columns[mark][row].strip().casefold() in ("yes", "y", "1", "true")
    return planned and not any(piece.columns[k][row].strip() for k in measured)


def _taken(piece: Piece, rows: Sequence[int], mark: int) -> Piece:
    columns = (c for k, c in enumerate(piece.columns) if k != mark)
    return replace(
        piece,
        columns=tuple(tuple(column[k] for k in rows) for column in columns),
        rows=tuple(piece.rows[k] for k in rows),
    )


def _told(file: SourceFile, count: int) -> Problem:
    return Problem(
        file.name,
        f"{count} planned row(s) without what is measured",
        "numbers, once they are there",
        "They wait: fill them in and load the folder again.",
    )
