"""The stored style of each layer: written by us, left alone where the user saved another."""

from __future__ import annotations

import sqlite3

from geoprofile.drawing.styles import needed_columns, qml, sld, style_of
from geoprofile.schema import Table
from geoprofile.store.connection import quoted
from geoprofile.store.layout import FID, GEOMETRY

# ruff: noqa: S608 - names pass through quoted(), values are parameters

OWNER = "geoprofile"
DESCRIPTION = "Made anew by geoprofile with the layer; save your own style to keep it"


def set_style(connection: sqlite3.Connection, table: Table, now: str) -> None:
    """Write our style of a table; it is the default unless the user saved one as that."""
    style = style_of(table.name, _rows(connection, table))
    texts = (qml(style), sld(style) or None)
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


def _user_has_default(connection: sqlite3.Connection, name: str) -> bool:
    found = connection.execute(
        "SELECT 1 FROM layer_styles WHERE f_table_name = ? AND useAsDefault "
        "AND owner IS NOT ? LIMIT 1",
        (name, OWNER),
    ).fetchone()
    return found is not None


def _rows(connection: sqlite3.Connection, table: Table) -> list[dict[str, object]]:
    """The different values that the classes are made from, in the order of the rows."""
    columns = needed_columns(table.name)
    if not columns:
        return []
    listed = ", ".join(map(quoted, columns))
    found = connection.execute(
        f"SELECT {listed}, min({FID}) FROM {quoted(table.name)} GROUP BY {listed} "
        f"ORDER BY min({FID})"
    )
    return [dict(zip(columns, row[:-1], strict=True)) for row in found]
