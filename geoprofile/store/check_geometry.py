"""Checks of geometries: declared type, every blob, extent and spatial index."""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator

from geoprofile.store.blobs import EMPTY, LITTLE_ENDIAN, BlobError, Box, Walk, header_length
from geoprofile.store.connection import quoted
from geoprofile.store.findings import (
    IN_GIS,
    REPAIR,
    RESTORE,
    Finding,
    Look,
    error,
    primary_key,
    warning,
)

# ruff: noqa: S608 - names pass through quoted(), values are parameters

KINDS = (
    "GEOMETRY",
    "POINT",
    "LINESTRING",
    "POLYGON",
    "MULTIPOINT",
    "MULTILINESTRING",
    "MULTIPOLYGON",
    "GEOMETRYCOLLECTION",
)
INDEX_TINY = 1e-37  # the index keeps single precision, which knows nothing smaller
EXTENDED, RESERVED_FLAGS = 0x20, 0xC0
TRIGGER_ENDS = ({"insert", "update1", "delete"}, {"insert", "update6", "update7", "delete"})


def check_layers(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Contents and geometry columns agree; then every layer's blobs, extent and index."""
    shaped = [g[0] for g in look.geometry]
    for layer in look.layers.values():
        place = f"table {layer.name}"
        if layer.data_type == "features" and layer.name not in shaped:
            yield error("geometry column", place, "a layer without a geometry column", REPAIR)
        if layer.data_type == "attributes" and layer.name in shaped:
            yield error("geometry column", place, "a table listed as one without shapes", REPAIR)
        known = layer.name in look.tables and layer.data_type in ("features", "attributes")
        if known and primary_key(connection, look, layer.name) is None:
            yield error("key", place, "no integer primary key", RESTORE)
    for row in look.geometry:
        yield from _check_declared(look, row, shaped.count(row[0]))
        if look.has(row[0]) and row[0] in look.layers:
            yield from _check_layer(connection, look, row)


def _check_declared(
    look: Look, row: tuple[str, str, str, int, int, int], times: int
) -> Iterator[Finding]:
    name, _, kind, srs_id, _, _ = row
    place = f"table {name}"
    if times > 1:
        yield error("geometry column", place, "more than one geometry column", RESTORE)
    if not look.has(name):
        yield error("geometry column", place, "there is no such table", REPAIR)
    elif name not in look.layers:
        yield error("contents", place, "it has shapes but is not listed", REPAIR)
    elif look.layers[name].srs_id != srs_id:
        yield error("system", place, f"two reference systems are given, one {srs_id}", REPAIR)
    if srs_id in (0, 99999):
        yield warning("system", place, "it has no reference system", IN_GIS)
    if kind.upper() not in KINDS:
        yield error("geometry type", place, f"an unknown type '{kind}'", REPAIR)
    elif kind.upper() == "GEOMETRY":
        yield warning("geometry type", place, "shapes of any type; a GIS may split it", IN_GIS)


def _check_layer(
    connection: sqlite3.Connection, look: Look, row: tuple[str, str, str, int, int, int]
) -> Iterator[Finding]:
    name, column, kind, srs_id, z, m = row
    key = primary_key(connection, look, name)
    boxes: dict[int, Box] = {}
    rows: list[int] = []
    for fid, blob in connection.execute(
        f"SELECT {quoted(key) if key else 'NULL'}, {quoted(column)} FROM {quoted(name)}"
    ):
        rows.append(fid)
        faults, box = check_blob(blob, kind.upper(), srs_id, z, m)
        for code, what, advice in faults:
            yield error(code, f"table {name}", f"row {fid}: {what}", advice)
        if box is not None:
            boxes[fid] = box
    if key and len(set(rows)) != len(rows):
        yield error("key", f"table {name}", "rows share an id", RESTORE)
    yield from _check_extent(look, name, srs_id, list(boxes.values()))
    if name in look.tables:
        yield from _check_index(connection, look, name, column, boxes)


Fault = tuple[str, str, str]


def check_blob(
    blob: object, kind: str, srs_id: int, z: int, m: int
) -> tuple[list[Fault], Box | None]:
    """Faults of one blob, each a code, words and advice, and its box where it has one."""
    if blob is None:
        return [], None
    if not isinstance(blob, bytes):
        return [("blob", "the shape is no blob", RESTORE)], None
    try:
        start = header_length(blob)
        if blob[3] & EXTENDED:
            return [("blob", "an extended geometry", IN_GIS)], None
        walk = Walk(blob, start)
    except BlobError as fault:
        return [("blob", f"the shape {fault}", RESTORE)], None
    return list(_blob_faults(blob, walk, kind, srs_id, z, m)), walk.box


def _blob_faults(
    blob: bytes, walk: Walk, kind: str, srs_id: int, z: int, m: int
) -> Iterator[Fault]:
    order = "<" if blob[3] & LITTLE_ENDIAN else ">"
    number = struct.unpack_from(f"{order}i", blob, 4)[0]
    if blob[3] & RESERVED_FLAGS:
        yield "blob", "reserved bits are set", REPAIR
    if number != srs_id:
        yield "blob system", f"its system is {number}, the layer's {srs_id}", REPAIR
    if kind not in ("GEOMETRY", KINDS[walk.kind]):
        yield "geometry type", f"a {KINDS[walk.kind]} in a layer of {kind}", IN_GIS
    for axis, declared, present in (("Z", z, walk.has_z), ("M", m, walk.has_m)):
        if (declared == 0 and present) or (declared == 1 and not present):
            state = "present" if present else "absent"
            yield f"dimension {axis}", f"{axis} is {state} against the layer", REPAIR
    if bool(blob[3] & EMPTY) != (walk.points == 0):
        yield "blob", "the empty mark is wrong", REPAIR
    if not walk.is_finite:
        yield "coordinate", "NaN or infinity in a coordinate", IN_GIS
    if not walk.is_closed:
        yield "ring", "a ring is open or has fewer than four points", IN_GIS
    if not _envelope_holds(blob, walk, order):
        yield "envelope", "the box in its header does not hold it", REPAIR


def _envelope_holds(blob: bytes, walk: Walk, order: str) -> bool:
    if walk.box is None or not (blob[3] >> 1) & 7:
        return True
    low_x, high_x, low_y, high_y = struct.unpack_from(f"{order}4d", blob, 8)
    box = walk.box
    return bool(low_x <= box[0] and high_x >= box[1] and low_y <= box[2] and high_y >= box[3])


def _check_extent(look: Look, name: str, srs_id: int, boxes: list[Box]) -> Iterator[Finding]:
    if not boxes:
        return
    place, listed = f"table {name}", look.layers[name].extent
    true = (
        min(b[0] for b in boxes),
        min(b[2] for b in boxes),
        max(b[1] for b in boxes),
        max(b[3] for b in boxes),
    )
    size = max(true[2] - true[0], true[3] - true[1], 1e-9)
    slack = 1e-9 * max(1.0, *map(abs, true))
    if any(v is None for v in listed):
        yield warning("extent", place, "no extent is listed", REPAIR)
    else:
        low_x, low_y, high_x, high_y = (float(v) for v in listed if v is not None)
        inside = low_x <= true[0] + slack and low_y <= true[1] + slack
        if not (inside and high_x >= true[2] - slack and high_y >= true[3] - slack):
            yield error("extent", place, "the listed extent leaves rows out of sight", REPAIR)
        elif max(true[0] - low_x, true[1] - low_y, high_x - true[2], high_y - true[3]) > size / 2:
            yield warning("extent", place, "the listed extent is far larger than its rows", REPAIR)
    yield from _check_degrees(look, place, srs_id, true)


def _check_degrees(
    look: Look, place: str, srs_id: int, extent: tuple[float, float, float, float]
) -> Iterator[Finding]:
    _, wkt1, wkt2 = look.systems.get(srs_id, ("", "", ""))
    largest = max(map(abs, extent))
    if (wkt1 or wkt2).startswith("GEOG") and largest > 360:
        yield error("coordinates", place, "metres in a system of degrees", IN_GIS)
    if (wkt1 or wkt2).startswith("PROJ") and largest <= 180:
        yield warning("coordinates", place, "degrees in a system of metres?", IN_GIS)


def _check_index(
    connection: sqlite3.Connection, look: Look, name: str, column: str, boxes: dict[int, Box]
) -> Iterator[Finding]:
    place, rtree = f"table {name}", f"rtree_{name}_{column}"
    registered = any(e[0] == name and e[2] == "gpkg_rtree_index" for e in look.extensions)
    if rtree not in look.tables:
        if registered:
            yield error("index", place, "its spatial index is missing", REPAIR)
        return
    if not registered:
        yield error("index", place, "its spatial index is not registered", REPAIR)
    try:
        indexed = {
            row[0]: row[1:]
            for row in connection.execute(f"SELECT id, minx, maxx, miny, maxy FROM {quoted(rtree)}")
        }
        state = connection.execute("SELECT rtreecheck(?)", (rtree,)).fetchone()[0]
    except sqlite3.Error as fault:
        yield error("index", place, f"its spatial index cannot be read ({fault})", REPAIR)
        return
    if state != "ok":
        yield error("index", place, "its spatial index is damaged", REPAIR)
    yield from _compare_index(place, boxes, indexed)
    stem = len(rtree) + 1
    ends = {n[stem:] for n, (t, _) in look.triggers.items() if t == name and n.startswith(rtree)}
    if not any(needed <= ends for needed in TRIGGER_ENDS):
        yield error("index", place, "triggers of its spatial index are missing", REPAIR)


def _compare_index(
    place: str, boxes: dict[int, Box], indexed: dict[int, tuple[float, ...]]
) -> Iterator[Finding]:
    missing, extra = set(boxes) - set(indexed), set(indexed) - set(boxes)
    if missing:
        what = f"{len(missing)} rows vanish when zoomed in: they are not in the spatial index"
        yield error("index", place, what, REPAIR)
    if extra:
        what = f"the spatial index has {len(extra)} entries without a row"
        yield error("index", place, what, REPAIR)
    for fid in set(boxes) & set(indexed):
        box, held = boxes[fid], indexed[fid]
        low = held[0] <= box[0] + INDEX_TINY and held[2] <= box[2] + INDEX_TINY
        high = held[1] >= box[1] - INDEX_TINY and held[3] >= box[3] - INDEX_TINY
        if not (low and high):
            yield error("index", place, f"row {fid} lies outside its box in the index", REPAIR)
