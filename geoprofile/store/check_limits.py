"""Checks of numbers against the schema, and of a dictionary that makes a GIS round them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from geoprofile.schema import TABLES, Column
from geoprofile.store.connection import quoted
from geoprofile.store.findings import IN_GIS, REPAIR, Finding, Look, columns, warning
from geoprofile.store.styling import ranges_of_ours

# ruff: noqa: S608 - names pass through quoted(), values are parameters


def check_limits(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Numbers of the tables of the schema lie within their limits."""
    for name, table in TABLES.items():
        if name not in look.tables:
            continue
        present = {c[0] for c in columns(connection, name)}
        for column in table.columns:
            if column.name in present:
                yield from _check_column(connection, name, column)


def _check_column(connection: sqlite3.Connection, table: str, column: Column) -> Iterator[Finding]:
    name = quoted(column.name)
    limits = (("<", column.low), ("<=", column.above), (">", column.high))
    beyond = [(f"{name} {sign} ?", limit) for sign, limit in limits if limit is not None]
    if not beyond:
        return
    outside = " OR ".join(condition for condition, _ in beyond)
    for (value,) in connection.execute(
        f"SELECT DISTINCT {name} FROM {quoted(table)} "
        f"WHERE typeof({name}) IN ('real', 'integer') AND ({outside}) LIMIT 5",
        [limit for _, limit in beyond],
    ):
        yield warning("rule", f"table {table}", f"{column.name}: {value!r} is not allowed", IN_GIS)


def check_forms(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """No column of ours has a range in the dictionary: for one, a GIS rounds what it saves."""
    if not {"gpkg_data_columns", "gpkg_data_column_constraints"} <= set(look.tables):
        return
    for _, table, column in ranges_of_ours(connection):
        what = f"a form of a desktop GIS rounds {column} when another cell of the row is changed"
        yield warning("form", f"table {table}", what, REPAIR)
