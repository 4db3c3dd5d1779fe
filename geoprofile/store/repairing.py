"""The repair of a site file: what can be rebuilt from the rows is, after a safety copy."""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Callable
from pathlib import Path

from geoprofile.errors import DamagedError
from geoprofile.schema import INPUT, SYSTEM, TABLES, Table
from geoprofile.store import core, layout
from geoprofile.store.blobs import LITTLE_ENDIAN, BlobError, header_length
from geoprofile.store.check_site import point_of
from geoprofile.store.connection import quoted, reading, telling, writing
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.layout import FID, GEOMETRY
from geoprofile.store.opening import check_header, read_settings, settle
from geoprofile.store.reference import SECTION, Reference, site_reference
from geoprofile.store.safety_copies import safety_copy
from geoprofile.store.styling import set_style
from geoprofile.store.tables import extent_of, touch
from geoprofile.store.writing import now_utc, refuse_foreign_sql

# ruff: noqa: S608 - names pass through quoted(), values are parameters


def repair(path: str | Path, tell: Callable[[str], None] = lambda remark: None) -> Path:
    """Rebuild indexes, extents, counts, dictionary and lists from the rows; the safety copy.

    Rows themselves are left as they are, but for a blob's system number, envelope and a missing
    elevation of a collar. DamagedError when the pages are broken: only a safety copy helps then.
    `tell` is told of what lay beside the file and had to go.
    """
    path = Path(path)
    with telling(path):
        check_header(path)
        for remark in settle(path):
            tell(remark)
    with reading(path) as connection:
        _refuse_broken(connection, path)
        site = site_reference(str(read_settings(connection, path).get("crs", "")))
    copy = safety_copy(path, "before-repair")
    with writing(path) as connection:
        refuse_foreign_sql(connection)
        connection.execute("REINDEX")
        restore_lists(connection, site)
    return copy


def restore_lists(connection: sqlite3.Connection, site: Reference) -> None:
    """Bring indexes, extents, counts, dictionary and lists in step with the tables."""
    _restore_core(connection, site)
    for table in TABLES.values():
        _restore_table(connection, table, site)
    _drop_dangling(connection)


def _refuse_broken(connection: sqlite3.Connection, path: Path) -> None:
    faults = [row[0] for row in connection.execute("PRAGMA integrity_check(20)")]
    broken = [f for f in faults if f != "ok" and ("Tree" in f or "malformed" in f)]
    if broken:
        raise DamagedError(
            path.name,
            f"broken pages ({' '.join(str(broken[0]).split())[:120]})",
            "pages that can be read",
            "Put back a safety copy: 'geoprofile restore' lists them.",
        )


def _restore_core(connection: sqlite3.Connection, site: Reference) -> None:
    for statement in core.CORE_TABLES:
        if not columns_of(connection, statement.split()[2]):
            connection.execute(statement)
    core.restore_systems(connection, site)
    core.restore_extensions(connection)
    connection.execute(
        "UPDATE gpkg_contents SET last_change = ? WHERE last_change NOT GLOB "
        "'[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T[0-9][0-9]:[0-9][0-9]*Z'",
        (now_utc(),),
    )


def _restore_table(connection: sqlite3.Connection, table: Table, site: Reference) -> None:
    if not columns_of(connection, table.name):
        layout.unlist_table(connection, table.name)
        if table in (*INPUT, *SYSTEM):
            connection.execute(f"DROP TABLE IF EXISTS {quoted(f'rtree_{table.name}_{GEOMETRY}')}")
            layout.create_table(connection, table, _system(table, site).srs_id)
        return
    srs_id = _system(table, site).srs_id
    layout.unlist_table(connection, table.name)
    layout.list_table(connection, table, srs_id)
    _undescribe_missing(connection, table)
    layout.describe_columns(connection, table)
    extent = None
    if table.geometry:
        _repair_blobs(connection, table, srs_id)
        rebuild_index(connection, table.name)
        extent = extent_of(connection, table.name)
    set_style(connection, table, now_utc())
    touch(connection, table, extent, now_utc())


def _system(table: Table, site: Reference) -> Reference:
    return SECTION if table.plane == "section" else site


def _undescribe_missing(connection: sqlite3.Connection, table: Table) -> None:
    """Drop the descriptions of columns that are gone; those of the user's own columns stay."""
    present = columns_of(connection, table.name)
    for (column,) in connection.execute(
        "SELECT column_name FROM gpkg_data_columns WHERE table_name = ?", (table.name,)
    ).fetchall():
        if column not in present:
            connection.execute(
                "DELETE FROM gpkg_data_columns WHERE table_name = ? AND column_name = ?",
                (table.name, column),
            )


def rebuild_index(connection: sqlite3.Connection, name: str) -> None:
    """Drop the spatial index of a table with its triggers, and build it from the rows."""
    stem = f"rtree_{name}_{GEOMETRY}"
    for (trigger,) in connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ? "
        "AND substr(name, 1, ?) = ?",
        (name, len(stem) + 1, f"{stem}_"),
    ).fetchall():
        connection.execute(f"DROP TRIGGER {quoted(trigger)}")
    connection.execute(f"DROP TABLE IF EXISTS {quoted(stem)}")
    layout.create_index(connection, name)
    edges = ", ".join(f"ST_{e}({GEOMETRY})" for e in ("MinX", "MaxX", "MinY", "MaxY"))
    connection.execute(
        f"INSERT INTO {quoted(stem)} SELECT {FID}, {edges} FROM {quoted(name)} "
        f"WHERE {GEOMETRY} NOTNULL AND NOT ST_IsEmpty({GEOMETRY})"
    )


def _repair_blobs(connection: sqlite3.Connection, table: Table, srs_id: int) -> None:
    heights = "ground_elevation_m" if table.name == "borehole" else "NULL"
    for fid, blob, height in connection.execute(
        f"SELECT {FID}, {GEOMETRY}, {heights} FROM {quoted(table.name)}"
    ).fetchall():
        repaired = repaired_blob(blob, srs_id, height)
        if repaired != blob:
            connection.execute(
                f"UPDATE {quoted(table.name)} SET {GEOMETRY} = ? WHERE {FID} = ?", (repaired, fid)
            )


def repaired_blob(blob: object, srs_id: int, height: float | None) -> object:
    """The blob with the right system number and a bare header; a flat point gets its height.

    What is no blob is given back as it is: there is nothing to rebuild it from.
    """
    if not isinstance(blob, bytes):
        return blob
    try:
        start = header_length(blob)
    except BlobError:
        return blob
    order = "<" if blob[3] & LITTLE_ENDIAN else ">"
    place = point_of(blob)
    if place is not None and len(place) == 2 and height is not None:
        return struct.pack("<2sBBi", b"GP", 0, 1, srs_id) + struct.pack(
            "<BI3d", 1, 1001, *place, height
        )
    head = bytes((blob[3] & 0x3F,)) + struct.pack(f"{order}i", srs_id)
    if _has_good_box(blob, start):
        return blob[:3] + head + blob[8:]
    bare = bytes((blob[3] & 0x31,)) + struct.pack(f"{order}i", srs_id)
    return blob[:3] + bare + blob[start:]


def _has_good_box(blob: bytes, start: int) -> bool:
    from geoprofile.store.check_geometry import check_blob

    faults, _ = check_blob(blob, "GEOMETRY", 0, 2, 2)
    return start == 8 or not any(code == "envelope" for code, _, _ in faults)


def _drop_dangling(connection: sqlite3.Connection) -> None:
    """Delete list entries, metadata links and styles that point at nothing."""
    real = "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')"
    for listing, column in (
        ("gpkg_geometry_columns", "table_name"),
        ("gpkg_data_columns", "table_name"),
        ("gpkg_extensions", "table_name"),
        ("gpkg_contents", "table_name"),
        ("gpkg_metadata_reference", "table_name"),
        ("gpkg_ogr_contents", "table_name"),
        ("layer_styles", "f_table_name"),
    ):
        if columns_of(connection, listing):
            connection.execute(
                f"DELETE FROM {listing} WHERE {column} NOTNULL AND {column} NOT IN ({real})"
            )
    connection.execute(
        "DELETE FROM gpkg_metadata_reference WHERE md_file_id NOT IN (SELECT id FROM gpkg_metadata)"
    )
    connection.execute(
        "DELETE FROM gpkg_extensions WHERE scope NOT IN ('read-write', 'write-only')"
    )
