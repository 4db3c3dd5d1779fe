"""Columns of text with the types of the schema; every bad cell is told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake import cells as c
from geoprofile.intake import times
from geoprofile.intake.headers import Bound
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.problems import shown
from geoprofile.intake.sources import SiteSettings
from geoprofile.intake.text import Piece
from geoprofile.schema import OFFSET, Column


def typed(
    piece: Piece,
    bound: Iterable[Bound],
    table: str,
    source: str,
    settings: SiteSettings,
    problems: list[Problem],
) -> dict[str, Any]:
    """The columns of a piece with the types of the schema, by name."""
    data: dict[str, Any] = {}
    bound = tuple(bound)
    # a file that brings the column, as a hand-over does, knows better than its times in UTC
    offsets = {col.name for col in columns_of(table)} - {b.name for b in bound}
    for b in bound:
        texts = piece.columns[b.index]
        cells = c.cells_of(texts, piece.rows, source, b, settings, typed=piece.typed)
        values = _column(b, cells, settings, problems)
        if b.column is not None and b.column.kind == "datetime":
            if b.name + OFFSET in offsets:
                data[b.name + OFFSET] = [None if t is None else times.offset_of(t) for t in values]
            values = [None if t is None else times.text_of(t) for t in values]
        data[b.name] = values
    return data


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
