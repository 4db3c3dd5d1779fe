"""GeoPackage of the tables handed over: a new file with dictionary and styles, never a copy.

A copy of the site file would carry along deleted rows that still lie in its free pages.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.styles import needed_columns
from geoprofile.formats._common import TABLES_SETTING, Sheet, safe_name, sheets_of
from geoprofile.formats._metadata import STANDARD, iso_metadata
from geoprofile.plugins import Format, Written
from geoprofile.store.connection import prepare
from geoprofile.store.core import create_core
from geoprofile.store.layout import create_table, geometry_type, has_z
from geoprofile.store.reader import LayerFacts, verify
from geoprofile.store.reference import SECTION, Reference, site_reference
from geoprofile.store.rows import rows_from
from geoprofile.store.styling import set_style
from geoprofile.store.tables import add_columns, extent_of, replace, touch
from geoprofile.store.writing import now_utc

if TYPE_CHECKING:
    from geoprofile.site import Site


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """One GeoPackage 1.3 with every table, read back by an independent library.

    Parameters
    ----------
    site : Site
        What may leave.
    folder : str
        Empty folder.
    settings : Mapping
        `tables`.

    Returns
    -------
    Written
        One file; a GeoPackage loses nothing.
    """
    path = Path(folder) / f"{safe_name(site.name)}.gpkg"
    reference = site_reference(site.crs)
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        prepare(connection)
        connection.execute("BEGIN IMMEDIATE")
        create_core(connection, reference)
        _write_metadata(connection, site)
        facts = [_write_sheet(connection, s, reference) for s in sheets_of(site, settings)]
        connection.execute("COMMIT")
    finally:
        connection.close()
    verify(path, facts)
    return Written((path.name,))


def _write_metadata(connection: sqlite3.Connection, site: Site) -> None:
    """ISO 19115-3 for the whole file (GeoPackage 1.3, extension metadata)."""
    now = now_utc()
    added = connection.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata) "
        "VALUES ('dataset', ?, 'text/xml', ?)",
        (STANDARD, iso_metadata(site, made_on=now[:10])),
    )
    connection.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, timestamp, md_file_id) "
        "VALUES ('geopackage', ?, ?)",
        (now, added.lastrowid),
    )


def _write_sheet(connection: sqlite3.Connection, sheet: Sheet, site: Reference) -> LayerFacts:
    table = sheet.table
    system = SECTION if table.plane == "section" else site
    create_table(connection, table, system.srs_id)
    rows = rows_from(table, sheet.frame, system.srs_id, extra=True)
    add_columns(connection, table, rows.added)
    replace(connection, table, rows)
    if set(needed_columns(table.name)) <= set(sheet.columns):  # a private one may be missing
        set_style(connection, table, now_utc())
    extent = extent_of(connection, table.name) if table.geometry else None
    count = touch(connection, table, extent, now_utc())
    box = None if extent is None else (extent[0], extent[1], extent[2], extent[3])
    shown = system if table.geometry else None
    return LayerFacts(table.name, count, geometry_type(table), has_z(table), shown, box)


PLUGIN = Format(
    "geopackage",
    "One GeoPackage with every table, its dictionary, units and style; loses nothing",
    ".gpkg",
    write,
    settings=(TABLES_SETTING,),
)
