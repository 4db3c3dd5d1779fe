"""Checks of what makes the file a site file: its tables, and collars that were moved in a GIS."""

from __future__ import annotations

import math
import sqlite3
import struct
from collections.abc import Iterator

from geoprofile.schema import INPUT, SCHEMA_VERSION, SYSTEM, TABLES
from geoprofile.store.blobs import LITTLE_ENDIAN, BlobError, header_length
from geoprofile.store.findings import (
    IN_GIS,
    REPAIR,
    RESTORE,
    Finding,
    Look,
    columns,
    error,
    warning,
)
from geoprofile.store.layout import FID, GEOMETRY

MOVED_M = 0.001  # coordinates are surveyed to a centimetre at best
MOVED_ADVICE = (
    "Set x, y and ground_elevation_m to the new place in the table or the file, or move the point "
    "back; until then geoprofile uses the columns."
)


def check_tables(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Every field and system table is there, and each table has its columns."""
    for table in (*SYSTEM, *INPUT):
        if table.name not in look.tables:
            yield error("table", f"table {table.name}", "it is missing", REPAIR)
    for name, table in TABLES.items():
        if name in look.views:
            yield error("table", f"table {name}", "a view stands in its place", RESTORE)
        if name not in look.tables:
            continue
        present = {c[0] for c in columns(connection, name)}
        wanted = [FID, *(c.name for c in table.columns), *([GEOMETRY] if table.geometry else [])]
        for column in wanted:
            if column not in present:
                yield error("column", f"table {name}", f"column {column} is missing", RESTORE)


def check_layout(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """The layout is that of this version."""
    if "site" not in look.tables:
        return
    row = connection.execute("SELECT value FROM site WHERE name = 'schema_version'").fetchone()
    if row is None or row[0] != str(SCHEMA_VERSION):
        found = "none" if row is None else row[0]
        what = f"table layout {found}, this geoprofile writes {SCHEMA_VERSION}"
        yield error("layout", "table site", what, "Run 'geoprofile migrate' on an older file.")


def check_collars(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Boreholes whose point is not where the columns say, or that have no point."""
    if "borehole" not in look.tables:
        return
    for name, x, y, elevation, blob in connection.execute(
        f"SELECT borehole, x, y, ground_elevation_m, {GEOMETRY} FROM borehole ORDER BY borehole"  # noqa: S608
    ):
        if not all(isinstance(v, int | float) for v in (x, y, elevation)):
            continue  # told as values that are no numbers
        place = f"table borehole, {name}"
        point = point_of(blob)
        if point is None:
            yield warning("no shape", place, "it has no point on the map", IN_GIS)
            continue
        shift = math.dist(point[:2], (x, y))
        rise = 0.0 if len(point) < 3 else point[2] - elevation
        if shift > MOVED_M:
            what = f"its point was moved {shift:.2f} m away from x and y"
            yield warning("moved", place, what, MOVED_ADVICE)
        elif abs(rise) > MOVED_M:
            what = f"its point lies {rise:+.2f} m from ground_elevation_m"
            yield warning("moved", place, what, MOVED_ADVICE)


def point_of(blob: object) -> tuple[float, ...] | None:
    """Coordinates of a point blob, with elevation where it has one; None where it is no point."""
    if not isinstance(blob, bytes):
        return None
    try:
        start = header_length(blob)
        order = "<" if blob[start] & LITTLE_ENDIAN else ">"
        code = struct.unpack_from(f"{order}I", blob, start + 1)[0]
        if code % 1000 != 1:
            return None
        width = 3 if code // 1000 in (1, 3) else 2
        point = struct.unpack_from(f"{order}{width}d", blob, start + 5)
    except (BlobError, struct.error, IndexError):
        return None
    return None if any(map(math.isnan, point)) else point
