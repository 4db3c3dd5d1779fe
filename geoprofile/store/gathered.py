"""A GeoPackage of a few tables that belong to no site: points in degrees, and lists."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoprofile.schema import Table
from geoprofile.store.connection import prepare
from geoprofile.store.core import create_core, wgs84
from geoprofile.store.layout import GEOMETRY, create_table, geometry_type, has_z
from geoprofile.store.reader import LayerFacts, verify
from geoprofile.store.rows import rows_from
from geoprofile.store.styling import OWNER
from geoprofile.store.tables import extent_of, replace, touch
from geoprofile.store.writing import now_utc
from geoprofile.whole import whole_file


@dataclass(frozen=True, eq=False)
class Sheet:
    """A table with its rows, and its style as QML, "" for none."""

    table: Table
    frame: Any
    style: str = ""


def write_gathered(path: Path, sheets: Sequence[Sheet]) -> None:
    """Write the file anew, read back by an independent library before it takes its place.

    Parameters
    ----------
    path : Path
        Replaced as a whole.
    sheets : sequence of Sheet
        Shapes in degrees (EPSG:4326).
    """
    with whole_file(path) as beside:
        connection = sqlite3.connect(beside, isolation_level=None)
        try:
            prepare(connection)
            connection.execute("BEGIN IMMEDIATE")
            create_core(connection, wgs84())
            facts = [_write(connection, sheet) for sheet in sheets]
            connection.execute("COMMIT")
        finally:
            connection.close()
        verify(beside, facts)


def _write(connection: sqlite3.Connection, sheet: Sheet) -> LayerFacts:
    table, system = sheet.table, wgs84()
    create_table(connection, table, system.srs_id)
    replace(connection, table, rows_from(table, sheet.frame, system.srs_id, extra=False))
    if sheet.style:
        connection.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, useAsDefault, description, owner, "
            "update_time) VALUES ('', '', ?, ?, ?, ?, 1, ?, ?, ?)",
            (table.name, GEOMETRY, OWNER, sheet.style, table.title, OWNER, now_utc()),
        )
    extent = extent_of(connection, table.name) if table.geometry else None
    count = touch(connection, table, extent, now_utc())
    box = None if extent is None else (extent[0], extent[1], extent[2], extent[3])
    shown = system if table.geometry else None
    return LayerFacts(table.name, count, geometry_type(table), has_z(table), shown, box)
