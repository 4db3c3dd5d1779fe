"""Tables as rows of plain values, without the libraries that frames and geometries take."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Any

from geoprofile.errors import DataError
from geoprofile.schema import TABLES
from geoprofile.schema.soil_gas import IN_GAS
from geoprofile.store.layout import FID, GEOMETRY
from geoprofile.store.store import Store

LISTED = ("table", "title", "owner", "rows")
QUANTITIES = "quantities"  # beside the tables: what was measured
UNSHOWN = (GEOMETRY, "geometry", "model", FID)
Listing = tuple[list[str], list[tuple[Any, ...]]]


def listing(store: Store, table: str | None, columns: Sequence[str] | None) -> Listing:
    """Names and rows of a table, all columns but the geometry by default; None lists the tables.

    DataError for a table or column that there is not.
    """
    if table is None:
        return list(LISTED), _tables(store)
    if table == QUANTITIES:
        return ["quantity"], [(name,) for name in quantities(store)]
    return _plain(store, in_the_singular(table), columns)


def quantities(store: Store) -> list[str]:
    """K, every analyte of the results, and those of soil gas under the name of their own."""
    found = {str(name) for (name,) in store.rows("result", ["analyte"]) if name}
    gas = {f"{name}{IN_GAS}" for (name,) in store.rows("soil_gas", ["analyte"])}
    return ["K", *sorted(found | gas)]


def _plain(store: Store, table: str, columns: Sequence[str] | None) -> Listing:
    """A table without its geometry, read without the libraries that a geometry takes."""
    kinds = store.columns(table)
    known = [c for c in kinds if c not in UNSHOWN]
    check_columns(table, columns or (), [*known, *(c for c in kinds if c == "model")])
    names = list(columns) if columns else known
    truths = [i for i, name in enumerate(names) if kinds[name] == "boolean"]
    rows = store.rows(table, names)
    if not truths:
        return names, rows
    return names, [
        tuple(bool(v) if i in truths and v is not None else v for i, v in enumerate(row))
        for row in rows
    ]


def in_the_singular(table: str) -> str:
    """The name of a table, which may be asked for in the plural."""
    if table in TABLES:
        return table
    near = [t for t in TABLES if table in (f"{t}s", f"{t[:-1]}ies")]
    if near:
        return near[0]
    close = difflib.get_close_matches(table, TABLES, n=1)
    hint = f" Did you mean '{close[0]}'?" if close else ""
    raise DataError(
        "site", f"no table '{table}'", f"one of {', '.join(TABLES)}", f"Check the name.{hint}"
    )


def _tables(store: Store) -> list[tuple[Any, ...]]:
    """Every table that the file has."""
    counts = store.counts()
    return [(t, TABLES[t].title, TABLES[t].owner, n) for t, n in counts.items()]


def check_columns(table: str, asked: Sequence[str], known: Sequence[str]) -> None:
    """DataError for a column that the table does not have."""
    for name in asked:
        if name not in known:
            raise DataError(
                f"table {table}",
                f"no column '{name}'",
                f"one of {', '.join(dict.fromkeys(known))}",
                "Check the name.",
            )
