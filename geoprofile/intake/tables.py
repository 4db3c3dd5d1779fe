"""Reads one source file into a frame with the types of the schema; every bad cell is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
import pandas as pd

from geoprofile.errors import DataError, Problem
from geoprofile.intake import cells as c
from geoprofile.intake import times
from geoprofile.intake.files import VECTOR, WORKBOOK
from geoprofile.intake.headers import Bound, bind
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.problems import MOST, place, shown
from geoprofile.intake.results import read_values
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW, SiteSettings, SourceFile
from geoprofile.intake.text import Piece, Sheet, read_text
from geoprofile.intake.waiting import without_waiting
from geoprofile.intake.workbook import read_workbook
from geoprofile.schema import OFFSET, Column

EMPTY = {"real": "float64", "integer": "float64"}


def read_file(
    file: SourceFile,
    settings: SiteSettings,
    problems: list[Problem],
    notes: list[Problem] | None = None,
) -> pd.DataFrame:
    """The rows of a source file as a frame with `source_file` and `source_row`.

    Faults are added to `problems`; cells with a fault are empty in the frame. `notes` is told of
    rows that wait.
    """
    suffix = file.path.suffix.casefold()
    if suffix in VECTOR:
        from geoprofile.intake.vectors import read_vector

        made: pd.DataFrame = read_vector(file, settings, problems)
        return made
    try:
        sheet = (
            read_workbook(file.path, file.name, file.sheet)
            if suffix in WORKBOOK
            else read_text(file.path, file.name, settings)
        )
        sheet = without_waiting(sheet, file, [] if notes is None else notes)
        return read_sheet(sheet, file, settings, problems)
    except DataError as error:
        problems += error.problems
        return empty(file.table, ())


def read_sheet(
    sheet: Sheet, file: SourceFile, settings: SiteSettings, problems: list[Problem]
) -> pd.DataFrame:
    """The rows of a sheet of text as a frame."""
    bound, faults = bind(_header(sheet.header, file), file.table, file.name, settings)
    problems += faults
    if faults:
        return empty(file.table, bound)
    if file.table == "result":
        pieces = _bounded(sheet.pieces, file, settings, problems)
        parts = [read_values(p, bound, file.name, settings, problems) for p in pieces]
        return _joined(parts, file, bound)
    pieces = _bounded(sheet.pieces, file, settings, problems)
    parts = [_typed(piece, bound, file, settings, problems) for piece in pieces]
    return _joined(parts, file, bound)


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


def _header(header: tuple[str, ...], file: SourceFile) -> tuple[str, ...]:
    return header


def _check_count(count: int, file: SourceFile, settings: SiteSettings) -> None:
    if count > settings.max_rows:
        raise DataError(
            file.name,
            f"more than {settings.max_rows} rows",
            "at most that many rows in one file",
            "Split the file, thin out the readings, or raise it: [intake] max_rows in site.toml.",
        )


def empty(table: str, bound: Iterable[Bound]) -> pd.DataFrame:
    """A frame without rows for a file of that table."""
    names = {col.name: EMPTY.get(col.kind, "object") for col in columns_of(table)}
    names |= {b.name: "object" for b in bound if b.column is None}
    frame = pd.DataFrame({n: pd.Series([], dtype=t) for n, t in names.items()})
    return frame.assign(
        **{
            SOURCE_FILE: pd.Series([], dtype="object"),
            SOURCE_ROW: pd.Series([], dtype="int64"),
        }
    )


def _joined(parts: list[pd.DataFrame], file: SourceFile, bound: Iterable[Bound]) -> pd.DataFrame:
    if not parts:
        return empty(file.table, bound)
    return pd.concat(parts, ignore_index=True) if len(parts) > 1 else parts[0]


def _typed(
    piece: Piece,
    bound: tuple[Bound, ...],
    file: SourceFile,
    settings: SiteSettings,
    problems: list[Problem],
) -> pd.DataFrame:
    data: dict[str, Any] = {}
    # a file that brings the column, as a hand-over does, knows better than its times in UTC
    offsets = {col.name for col in columns_of(file.table)} - {b.name for b in bound}
    for b in bound:
        cells = c.Cells(
            piece.columns[b.index],
            piece.rows,
            file.name,
            b.heading,
            c.decimal_of(settings, typed=piece.typed),
        )
        values = _column(b, cells, settings, problems)
        if b.column is not None and b.column.kind == "datetime":
            if b.name + OFFSET in offsets:
                data[b.name + OFFSET] = [None if t is None else times.offset_of(t) for t in values]
            values = [None if t is None else times.text_of(t) for t in values]
        data[b.name] = values
    return framed(data, file.name, piece.rows, file.table)


def framed(data: dict[str, Any], source: str, rows: Iterable[int], table: str) -> pd.DataFrame:
    """A frame of the columns given, with the source of each row; missing columns come empty."""
    row_numbers = np.asarray(list(rows), dtype=np.int64)
    count = len(row_numbers)
    columns: dict[str, Any] = {}
    for col in columns_of(table):
        if col.name in data:
            columns[col.name] = data.pop(col.name)
        elif col.kind in EMPTY:
            columns[col.name] = np.full(count, np.nan)
        else:
            columns[col.name] = [None] * count
    series = {
        n: pd.Series(v, dtype="object") if isinstance(v, list) else pd.Series(v)
        for n, v in (columns | data).items()
    }
    series[SOURCE_FILE] = pd.Series([source] * count, dtype="object")
    series[SOURCE_ROW] = pd.Series(row_numbers)
    return pd.DataFrame(series)


def _column(b: Bound, cells: c.Cells, settings: SiteSettings, problems: list[Problem]) -> Any:
    if b.column is None:
        return c.texts(cells)
    before = len(problems)
    values = READERS[b.column.kind](b, b.column, cells, settings, problems)
    if b.column.required and len(problems) == before:
        _check_filled(values, b.column, cells, problems)
    return values


def _check_filled(values: Any, column: Column, cells: c.Cells, problems: list[Problem]) -> None:
    missing = np.flatnonzero(pd.isna(pd.Series(values)))
    cells.tell(
        problems,
        list(missing),
        lambda i: (
            "an empty cell",
            f"{column.meaning[0].lower()}{column.meaning[1:]}",
            "Fill the cell, or remove the row.",
        ),
    )


def _numbers(
    b: Bound, column: Column, cells: c.Cells, settings: SiteSettings, problems: list[Problem]
) -> Any:
    values = c.in_unit(c.numbers(cells, problems), b)
    c.check_numbers(values, column, cells, problems)
    return values


def _texts(
    b: Bound, column: Column, cells: c.Cells, settings: SiteSettings, problems: list[Problem]
) -> Any:
    values = c.texts(cells)
    if column.allowed:
        return c.choices(values, column, cells, problems)
    if column.many:
        return c.number_lists(values, b, cells, problems)
    long = [i for i, v in enumerate(values) if v is not None and _is_unfit(v, column)]
    cells.tell(
        problems,
        long,
        lambda i: (
            f"the name {shown(values[i])}",
            "a name of at most 200 characters on one line",
            "Shorten or correct the name.",
        ),
    )
    return values


def _is_unfit(text: str, column: Column) -> bool:
    """Whether a name would break messages and keys; remarks may be long."""
    if not (column.key or column.references):
        return False
    return len(text) > 200 or not text.isprintable()


def _flags(
    b: Bound, column: Column, cells: c.Cells, settings: SiteSettings, problems: list[Problem]
) -> Any:
    return c.flags(cells, problems)


def _times(
    b: Bound, column: Column, cells: c.Cells, settings: SiteSettings, problems: list[Problem]
) -> Any:
    return times.moments(cells, settings, problems)


def _dates(
    b: Bound, column: Column, cells: c.Cells, settings: SiteSettings, problems: list[Problem]
) -> Any:
    return [None if d is None else d.isoformat() for d in times.dates(cells, settings, problems)]


READERS: dict[str, Callable[..., Any]] = {
    "real": _numbers,
    "integer": _numbers,
    "text": _texts,
    "boolean": _flags,
    "datetime": _times,
    "date": _dates,
}
