"""The stored style of each layer: written by us, left alone where the user saved another."""

from __future__ import annotations

import sqlite3
from functools import lru_cache

from geoprofile.schema import INPUT, TABLES, Table
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.layout import FID, GEOMETRY

# ruff: noqa: S608 - names pass through quoted(), values are parameters

OWNER = "geoprofile"
DESCRIPTION = "Made anew by geoprofile with the layer; save your own style to keep it"


def set_style(connection: sqlite3.Connection, table: Table, now: str) -> None:
    """Write our style of a table; it is the default unless the user saved one as that."""
    from geoprofile.drawing import people

    rows = tuple(tuple(row.items()) for row in rows_for_style(connection, table))
    texts = _texts(table.name, rows, repr((rows, people.now())))  # 1 and 1.0 are not the same
    stored = connection.execute(
        "SELECT id, styleQML, styleSLD, useAsDefault FROM layer_styles "
        "WHERE f_table_name = ? AND owner = ?",
        (table.name, OWNER),
    ).fetchone()
    default = int(not _user_has_default(connection, table.name))
    if stored is None:
        # an empty geometry column, not NULL, is how a table without shapes is told
        geometry = GEOMETRY if table.geometry else ""
        connection.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, "
            "update_time) VALUES ('', '', ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (table.name, geometry, OWNER, *texts, default, DESCRIPTION, OWNER, now),
        )
    elif stored[1:] != (*texts, default):
        connection.execute(
            "UPDATE layer_styles SET styleQML = ?, styleSLD = ?, useAsDefault = ?, "
            "update_time = ? WHERE id = ?",
            (*texts, default, now, stored[0]),
        )


@lru_cache(maxsize=256)  # a command writes each several times, 4 ms each
def _texts(
    name: str, rows: tuple[tuple[tuple[str, object], ...], ...], _spelled: str
) -> tuple[str, str | None]:
    """QML and SLD of a table with these values, which are spelled out with the units in force."""
    from geoprofile.drawing.styles.catalogue import style_of
    from geoprofile.drawing.styles.qml import qml
    from geoprofile.drawing.styles.sld import sld

    style = style_of(name, [dict(row) for row in rows])
    return qml(style), sld(style) or None


def renew_forms(connection: sqlite3.Connection, now: str) -> None:
    """Give every table of the user its present form, also in a file that an older version wrote.

    Ranges of our own in the dictionary are taken out: a GIS rounds the numbers that have one.
    """
    for table in INPUT:
        if columns_of(connection, table.name):
            set_style(connection, table, now)
    for rule, name, column in ranges_of_ours(connection):
        connection.execute(
            "UPDATE gpkg_data_columns SET constraint_name = NULL "
            "WHERE table_name = ? AND column_name = ?",
            (name, column),
        )
        connection.execute(
            "DELETE FROM gpkg_data_column_constraints WHERE constraint_name = ?", (rule,)
        )


def ranges_of_ours(connection: sqlite3.Connection) -> list[tuple[str, str, str]]:
    """(rule, table, column) of the ranges that older versions wrote for columns of the schema."""
    found = connection.execute(
        "SELECT DISTINCT constraint_name, table_name, column_name FROM gpkg_data_columns "
        "JOIN gpkg_data_column_constraints USING (constraint_name) "
        "WHERE constraint_type = 'range' AND constraint_name = table_name || '_' || column_name"
    ).fetchall()
    return [row for row in found if row[1] in TABLES]


def _user_has_default(connection: sqlite3.Connection, name: str) -> bool:
    found = connection.execute(
        "SELECT 1 FROM layer_styles WHERE f_table_name = ? AND useAsDefault "
        "AND owner IS NOT ? LIMIT 1",
        (name, OWNER),
    ).fetchone()
    return found is not None


def rows_for_style(connection: sqlite3.Connection, table: Table) -> list[dict[str, object]]:
    """The different values that the classes are made from, in the order of the rows."""
    from geoprofile.drawing.styles.catalogue import needed_columns

    columns = needed_columns(table.name)
    if not columns:
        return []
    listed = ", ".join(map(quoted, columns))
    found = connection.execute(
        f"SELECT {listed}, min({FID}) FROM {quoted(table.name)} GROUP BY {listed} "
        f"ORDER BY min({FID})"
    )
    return [dict(zip(columns, row[:-1], strict=True)) for row in found]
