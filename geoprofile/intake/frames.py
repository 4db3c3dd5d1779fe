"""Frames with the columns of a table, and the source of each row."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from geoprofile.intake.headers import Bound
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW

EMPTY = {"real": "float64", "integer": "float64"}


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
