"""The site file held to the GeoPackage standard and to files that GDAL writes."""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
import struct
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely

from geoprofile.store import Changes, Store
from geoprofile.store.blobs import decode
from geoprofile.store.foreign import is_known_trigger
from geoprofile.store.layout import trigger_sql
from geoprofile.validation.case import Case, Second

STANDARD = "GeoPackage Encoding Standard, OGC 12-128r17, version 1.3.0"
GDAL = f"{STANDARD}; files that GDAL writes"
CRS = "EPSG:32631"
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")
SHAPES = (
    shapely.LineString([(500000, 5700000, 2), (500003, 5700004, -28)]),
    shapely.LineString([(500010, 5700010, 1), (500010, 5700010, -9)]),
)
ADDED = shapely.LineString([(500020, 5700030, 0), (500021, 5700031, -5)])
ENVELOPE = (500000.0, 500003.0, 5700000.0, 5700004.0)
EVENTS = {"insert", "update1", "update2", "update3", "update4", "delete"}
SYSTEMS = (
    "SELECT srs_id, organization, organization_coordsys_id FROM gpkg_spatial_ref_sys "
    "WHERE srs_id IN (-1, 0, 4326, 32631) ORDER BY srs_id"
)
CONTENTS = (
    "SELECT data_type, c.srs_id, geometry_type_name, z, m, min_x, min_y, max_x, max_y "
    "FROM gpkg_contents c JOIN gpkg_geometry_columns USING (table_name) "
    "WHERE table_name = 'borehole_path'"
)
INDEX = "SELECT id, minx, maxx, miny, maxy FROM rtree_borehole_path_geom"


def asked(path: Path, sql: str) -> list[Any]:
    """Rows of a query on a file."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


@dataclass(frozen=True)
class Seen:
    """What was read of our file and of GDAL's; 1 stands for "as asked"."""

    header: tuple[float, ...]
    header_of_gdal: tuple[float, ...]
    agreements: tuple[float, ...]
    blob: tuple[float, ...]
    blob_of_gdal: tuple[float, ...]
    index: tuple[float, ...]
    reader: tuple[float, ...]


@cache
def seen() -> Seen:
    """Two lines written by us and by GDAL, read and edited by GDAL."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        ours, theirs = _ours(folder), _theirs(folder)
        return Seen(
            _header(ours),
            _header(theirs),
            _agreements(ours, theirs),
            _blob(ours),
            _parsed(theirs),
            _index(ours, folder),
            (*_refused(ours, folder), *_described(ours), *_plane(folder)),
        )


def _frame() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({"borehole": ["B1", "B2"]}, geometry=list(SHAPES))


def _ours(folder: Path) -> Path:
    path = folder / "ours.gpkg"
    store = Store.create(path, name="s", crs=CRS, vertical_datum="d")
    changes = Changes("run", started_at="2031-05-04T09:30:00Z", derived={"borehole_path": _frame()})
    store.write(changes)
    return path


def _theirs(folder: Path) -> Path:
    path = folder / "theirs.gpkg"
    frame = _frame().set_crs(CRS)
    frame.to_file(path, layer="borehole_path", driver="GPKG", engine="pyogrio", VERSION="1.3")
    return path


def _header(ours: Path) -> tuple[float, ...]:
    ((number,),) = asked(ours, "PRAGMA application_id")
    ((version,),) = asked(ours, "PRAGMA user_version")
    return float(number), float(version)


def _agreements(ours: Path, theirs: Path) -> tuple[float, ...]:
    systems = [(s, o.upper(), c) for s, o, c in asked(ours, SYSTEMS)]
    changed = [t for (t,) in asked(ours, "SELECT last_change FROM gpkg_contents")]
    ((started, ended),) = asked(ours, "SELECT started_at, ended_at FROM run")
    blobs = [b for (b,) in asked(theirs, "SELECT geom FROM borehole_path ORDER BY fid")]
    made = asked(theirs, "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
    return tuple(
        float(is_so)
        for is_so in (
            systems == asked(theirs, SYSTEMS),
            asked(ours, CONTENTS) == asked(theirs, CONTENTS),
            all(MOMENT.fullmatch(t) for t in changed),
            started == "2031-05-04T09:30:00.000Z" and MOMENT.fullmatch(ended) is not None,
            [list(s.coords) for s in decode(blobs)] == [list(s.coords) for s in SHAPES],
            {n.rsplit("_", 1)[1] for n in trigger_sql("t")} == EVENTS,
            bool(made) and all(is_known_trigger(q, t, ["geom"], "fid") for _, t, q in made),
        )
    )


def _blob(ours: Path) -> tuple[float, ...]:
    """Version, flags, system, box, byte order and type of the first blob, after its letters."""
    ((blob,),) = asked(ours, "SELECT geom FROM borehole_path WHERE fid = 1")
    letters, *head = struct.unpack_from("<2sBBi4d", blob)
    return (float(letters == b"GP"), *head, *struct.unpack_from("<BI", blob, 40))


def _parsed(theirs: Path) -> tuple[float, ...]:
    """The same of GDAL's blob, as the standard has it parsed; its flags tell of a box with z.

    What follows the box is told by shapely from the bytes alone: its own byte order and number.
    """
    ((blob,),) = asked(theirs, "SELECT geom FROM borehole_path WHERE fid = 1")
    flags = blob[3]
    box = struct.unpack_from("<4d", blob, 8)
    size = {1: 32, 2: 48}[flags >> 1 & 7]
    again = shapely.to_wkb(shapely.from_wkb(blob[8 + size :]), flavor="iso", byte_order=1)
    (system,) = struct.unpack_from("<i", blob, 4)
    without_z = float(flags & ~0b1110 | 0b0010)
    order, number = struct.unpack_from("<BI", again)
    return (float(blob[:2] == b"GP"), float(blob[2]), without_z, system, *box, order, number)


def _index(ours: Path, folder: Path) -> tuple[float, ...]:
    """The index of a copy after GDAL added a line: rows, and the box of the new one."""
    copy = folder / "copy.gpkg"
    shutil.copy(ours, copy)
    more = gpd.GeoDataFrame({"borehole": ["B3"], "run": [1]}, geometry=[ADDED], crs=CRS)
    _append(more, copy, "borehole_path")
    boxes = asked(copy, INDEX)
    return (float([b[0] for b in boxes] == [1, 2, 3]), *boxes[-1][1:])


def _refused(ours: Path, folder: Path) -> tuple[float, ...]:
    """Whether a row that breaks a rule is refused when GDAL appends it, and leaves nothing."""
    copy = folder / "refused.gpkg"
    shutil.copy(ours, copy)
    bad = gpd.GeoDataFrame(
        {"borehole": ["X"], "x": 1.0, "y": 2.0, "ground_elevation_m": 0.0, "depth_m": -5.0},
        geometry=[shapely.Point(1, 2, 0)],
        crs=CRS,
    )
    try:
        _append(bad, copy, "borehole")
    except Exception as error:  # whatever the library raises carries SQLite's own words
        said = float("CHECK constraint" in str(error))
    else:
        said = 0.0
    return said, float(asked(copy, "SELECT count(*) FROM borehole") == [(0,)])


def _append(rows: gpd.GeoDataFrame, path: Path, layer: str) -> None:
    """Rows added by GDAL, with every field in its place: older readers go by place, not by name."""
    fields = pyogrio.read_info(path, layer=layer)["fields"]
    whole = rows.reindex(columns=[*fields, rows.geometry.name])
    pyogrio.write_dataframe(whole, path, layer=layer, append=True)


def _described(ours: Path) -> tuple[float, ...]:
    metadata = pyogrio.read_info(ours, layer="borehole_path")["layer_metadata"]
    return (
        float("minimum curvature" in metadata["DESCRIPTION"]),
        float('"program": "geoprofile"' in metadata["GPKG_METADATA_ITEM_1"]),
    )


def _plane(folder: Path) -> tuple[float, ...]:
    store = Store.create(folder / "plane.gpkg", name="s", crs=CRS, vertical_datum="d")
    line = shapely.LineString(np.array([[5.0, 2.0], [5.0, -30.0]]))
    holes = gpd.GeoDataFrame({"section": ["A"], "borehole": ["B1"]}, geometry=[line])
    store.write(Changes("section", derived={"section_hole": holes}))
    crs = pyogrio.read_info(store.path, layer="section_hole")["crs"]
    return (float("Section sheet" in str(crs)),)


CASES = (
    Case(
        "file-header", "site-file", 'Application number "GPKG" and version', f"{STANDARD}, 1.1.1",
        "from memory", (float(0x47504B47), 10300.0), lambda: seen().header,
        labels=("application", "version"), how="a site file as written",
        second=Second("the file that GDAL writes", lambda: seen().header_of_gdal, 0.0),
    ),
    Case(
        "file-agreements", "site-file", "What GDAL writes of the same two lines, 1 is as asked",
        f"{GDAL}; requirements 11, 14, 15, table 1, annex F.3", "derived", (1.0,) * 7,
        lambda: seen().agreements, how="a site file as written, and GDAL's as read",
        labels=(
            "reference systems", "contents, geometry columns and extent",
            "last change to the millisecond", "times of runs to the millisecond",
            "GDAL's shapes are read", "names of the index triggers", "GDAL's triggers are known",
        ),
    ),
    Case(
        "file-blob", "site-file", "Header of the first geometry, byte by byte",
        f"{STANDARD}, table 3; ISO number of a line with Z", "from memory",
        (1.0, 0.0, 3.0, 32631.0, *ENVELOPE, 1.0, 1002.0), lambda: seen().blob,
        labels=(
            "letters GP", "version", "flags", "system", "least x", "most x", "least y", "most y",
            "byte order", "type",
        ),
        how="a site file as written",
        second=Second("GDAL's blob of the same line", lambda: seen().blob_of_gdal, 0.0),
    ),
    Case(
        "file-index", "site-file", "Spatial index after GDAL added a line to our layer", GDAL,
        "derived", (1.0, 500020.0, 500021.0, 5700030.0, 5700031.0), lambda: seen().index,
        relative=1e-6, labels=("rows 1, 2, 3", "least x", "most x", "least y", "most y"),
        how="our triggers", because="the index keeps boxes in single precision",
    ),
    Case(
        "file-reader", "site-file", "What GDAL makes of our file, 1 is as asked", GDAL, "derived",
        (1.0,) * 5, lambda: seen().reader, how="a site file read and edited through GDAL",
        labels=(
            "a row that breaks a rule is refused", "and leaves nothing", "description of a layer",
            "dictionary", "section sheet is a plane of its own",
        ),
    ),
)  # fmt: skip
