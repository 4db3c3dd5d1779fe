"""In words, how rows of the files differ from those of the database: every column by name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pandas as pd

from geoprofile.schema import TABLES
from geoprofile.site import records_of

BESIDE = ("geometry", "source_file", "source_row")  # no columns of the table
SHAPES = "the shapes differ"
SAME_M = 0.001  # coordinates are surveyed to a centimetre at best
MOST_ROWS = 3  # rows of a batch that are told one by one

Row = Mapping[str, Any]


def differences(file: Row, here: Row, name: str, *, but: Sequence[str] = ()) -> str:
    """Both values of every column that differs, the user's own included; "" where none does."""
    names = dict.fromkeys((*(c.name for c in TABLES[name].columns), *file))
    told = [
        f"{c} is {said(file.get(c))} in the file, {said(here.get(c))} here"
        for c in names
        if c not in (*BESIDE, *but) and said(file.get(c)) != said(here.get(c))
    ]
    if not but and _reshaped(file.get("geometry"), here.get("geometry")):
        told.append(SHAPES)
    return "; ".join(told)


def _reshaped(file: Any, here: Any) -> bool:
    if file is None or here is None:
        return file is not here
    return not file.equals_exact(here, SAME_M)


def counts(batch: str, new: pd.DataFrame, old: pd.DataFrame, name: str) -> str:
    """Rows of a batch in the files and in the database, and what differs between them."""
    table = TABLES[name]
    first, second = _of_batch(new, name, batch), _of_batch(old, name, batch)
    told = f"the file has {len(first)} rows, the database {len(second)}"
    differing = list(_rows(first, second, name))
    shown = differing[:MOST_ROWS]
    if len(differing) > MOST_ROWS:
        shown.append(f"{len(differing) - MOST_ROWS} more rows of this {table.batch} differ")
    return "; ".join([told, *shown])


def _of_batch(frame: pd.DataFrame, name: str, batch: str) -> dict[tuple[str, ...], Row]:
    """Rows of a batch by the rest of their key, as text."""
    table = TABLES[name]
    rest = [k for k in table.key if k != table.batch]
    rows = records_of(frame[frame[table.batch] == batch])
    return {tuple(said(row.get(k)) for k in rest): row for row in rows}


def _rows(first: Mapping[Any, Row], second: Mapping[Any, Row], name: str) -> Iterator[str]:
    table = TABLES[name]
    rest = [k for k in table.key if k != table.batch]
    for key in dict.fromkeys((*first, *second)):
        where = ", ".join(f"{k} {v}" for k, v in zip(rest, key, strict=True))
        if key not in second:
            yield f"{where} is only in the file"
        elif key not in first:
            yield f"{where} is only here"
        elif told := differences(first[key], second[key], name):
            yield f"at {where} {told}"


def said(value: Any) -> str:
    """A value as text; `nothing` for an empty cell."""
    if value is None or value is pd.NA or value != value:
        return "nothing"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
