"""Tables of the site file as frames: what a Site is made of."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import hashlib
import json
import marshal
import sqlite3
from collections import OrderedDict
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DamagedError
from geoprofile.schema import TABLES, Table
from geoprofile.store.blobs import BlobError, decode
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import PLAIN_FORM, columns_of, read_sql
from geoprofile.store.layout import FID, GEOMETRY

if TYPE_CHECKING:
    import pandas as pd

DTYPES = {"real": "float64", "integer": "Int64", "boolean": "boolean"}
USER_DTYPES = {"BOOLEAN": "boolean", "REAL": "float64", "DOUBLE": "float64", "FLOAT": "float64"}
# Frames read last, by a digest of the rows: a command reads a file before and after it writes.
_READ: OrderedDict[str, pd.DataFrame] = OrderedDict()
MOST_READ, MOST_ROWS = 128, 20_000
INTEGERS = ("INTEGER", "INT", "MEDIUMINT", "SMALLINT", "TINYINT")


def read_table(connection: sqlite3.Connection, name: str, crs: str) -> pd.DataFrame | None:
    """One table with the columns of the schema first and the user's own after; None without it."""
    table = TABLES[name]
    if not columns_of(connection, name):
        return None
    types = {
        row[1]: str(row[2]).upper()
        for row in connection.execute(f"PRAGMA table_info({quoted(name)})")
    }
    columns = _wanted(table, list(types))
    order = ", ".join(map(quoted, table.key if table.key else (FID,)))
    listed = ", ".join(read_sql(table, c) for c in columns)
    cursor = connection.execute(f"SELECT {listed} FROM {quoted(name)} ORDER BY {order}")
    rows = cursor.fetchall()
    if not rows:
        return _without_rows(name, tuple((c, types[c]) for c in columns), crs).copy()
    declared = tuple((c, types[c]) for c in columns)
    if len(rows) > MOST_ROWS:
        return _of_rows(table, rows, declared, crs)
    # what holds text that is no UTF-8 has no such form, and gets no frame either
    digest = hashlib.sha256(marshal.dumps((name, declared, crs, rows), PLAIN_FORM)).hexdigest()
    frame = _READ.pop(digest, None)
    if frame is None:
        frame = _of_rows(table, rows, declared, crs)
    _READ[digest] = frame
    while len(_READ) > MOST_READ:
        _READ.popitem(last=False)
    return frame.copy(deep=False)


def _of_rows(
    table: Table, rows: list[tuple[Any, ...]], declared: tuple[tuple[str, str], ...], crs: str
) -> pd.DataFrame:
    columns = [column for column, _ in declared]
    values = dict(zip(columns, zip(*rows, strict=True), strict=True))
    return _frame(table, values, dict(declared), crs)


@lru_cache(maxsize=256)  # most tables of most sites, some 7 ms each
def _without_rows(name: str, columns: tuple[tuple[str, str], ...], crs: str) -> pd.DataFrame:
    return _frame(TABLES[name], {column: () for column, _ in columns}, dict(columns), crs)


def settings_by_step(connection: sqlite3.Connection) -> dict[str, dict[str, Any]]:
    """The settings by which each derived layer was made; DamagedError where they are no JSON."""
    if "settings" not in columns_of(connection, "step"):
        return {}
    rows = connection.execute("SELECT step, settings FROM step WHERE settings IS NOT NULL")
    found = {}
    for step, text in rows.fetchall():
        try:
            found[str(step)] = dict(json.loads(text))
        except (TypeError, ValueError) as error:
            raise DamagedError(
                f"table step, column settings, step {step}",
                f"'{text}'",
                "settings by name, in JSON",
                "Delete the row: the next run computes that step again.",
            ) from error
    return found


def _wanted(table: Table, present: list[str]) -> list[str]:
    own = [c.name for c in table.columns if c.name in present]
    users = [c for c in present if c not in own and c not in (FID, GEOMETRY)]
    geometry = [GEOMETRY] if table.geometry and GEOMETRY in present else []
    return [*own, *users, *geometry]


def _frame(
    table: Table, data: dict[str, tuple[Any, ...]], types: dict[str, str], crs: str
) -> pd.DataFrame:
    import pandas as pd

    blobs = data.pop(GEOMETRY, None)
    kinds = {c.name: c.kind for c in table.columns}
    frame = pd.DataFrame(
        {n: _series(v, _dtype(kinds.get(n), types[n]), table.name, n) for n, v in data.items()}
    )
    if table.geometry is None:
        return frame
    import geopandas as gpd

    try:
        geometry = decode(blobs if blobs is not None else [None] * len(frame))
    except (BlobError, TypeError) as error:
        raise _unreadable(table.name, GEOMETRY, error) from error
    plane = None if table.plane == "section" else crs
    try:
        located: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=geometry, crs=plane)
    except RuntimeError as error:  # what pyproj makes of a CRS that is none
        raise _unreadable("site", "value", error) from error
    return located


def _dtype(kind: str | None, declared: str) -> str:
    if kind is not None:
        return DTYPES.get(kind, "object")
    return "Int64" if declared in INTEGERS else USER_DTYPES.get(declared, "object")


def _series(values: tuple[Any, ...], dtype: str, table: str, column: str) -> pd.Series[Any]:
    import pandas as pd

    try:
        if dtype == "boolean":
            return pd.Series([None if v is None else bool(v) for v in values], dtype=dtype)
        return pd.Series(list(values), dtype=dtype)
    except (TypeError, ValueError, OverflowError) as error:
        raise _unreadable(table, column, error) from error


def _unreadable(table: str, column: str, error: Exception) -> DamagedError:
    return DamagedError(
        f"table {table}, column {column}",
        f"a value that cannot be read ({error})",
        "values of the column's type",
        "Run 'geoprofile check' to see the rows, and correct them in the GIS.",
    )
