"""The site file against the GeoPackage standard and against files of a reference library."""

from __future__ import annotations

import contextlib
import re
import sqlite3
import struct

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoprofile.store import Changes, Store
from geoprofile.store.blobs import decode
from geoprofile.store.foreign import is_known_trigger
from geoprofile.store.layout import trigger_sql

CRS = "EPSG:32631"
SHAPES = [
    shapely.LineString([(500000, 5700000, 2), (500003, 5700004, -28)]),
    shapely.LineString([(500010, 5700010, 1), (500010, 5700010, -9)]),
]


@pytest.fixture(scope="module")
def ours(tmp_path_factory):
    """A site file with one derived layer of two lines."""
    path = tmp_path_factory.mktemp("ours") / "site.gpkg"
    store = Store.create(path, name="s", crs=CRS, vertical_datum="d")
    frame = gpd.GeoDataFrame({"borehole": ["B1", "B2"]}, geometry=SHAPES)
    store.write(Changes("run", derived={"borehole_path": frame}))
    return path


@pytest.fixture(scope="module")
def theirs(tmp_path_factory):
    """The same layer written by GDAL, version 1.3."""
    path = tmp_path_factory.mktemp("theirs") / "other.gpkg"
    frame = gpd.GeoDataFrame({"borehole": ["B1", "B2"]}, geometry=SHAPES, crs=CRS)
    frame.to_file(path, layer="borehole_path", driver="GPKG", engine="pyogrio", VERSION="1.3")
    return path


def query(path, sql):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def test_the_header_numbers(ours):
    """Application number "GPKG" and version 10300 (clause 1.1.1)."""
    assert query(ours, "PRAGMA application_id") == [(0x47504B47,)]
    assert query(ours, "PRAGMA user_version") == [(10300,)]


def test_the_required_reference_systems(ours, theirs):
    """WGS 84 and the two undefined systems (requirement 11), as the reference library has them."""
    sql = (
        "SELECT srs_id, organization, organization_coordsys_id FROM gpkg_spatial_ref_sys "
        "WHERE srs_id IN (-1, 0, 4326, 32631) ORDER BY srs_id"
    )
    assert [(s, o.upper(), c) for s, o, c in query(ours, sql)] == query(theirs, sql)


def test_contents_and_geometry_columns_agree_with_the_reference(ours, theirs):
    """Type, system and dimensions are those that GDAL gives the same lines.

    GDAL lists any extent that holds the rows; so does ours, to the last digit of the coordinates.
    """
    sql = (
        "SELECT data_type, c.srs_id, geometry_type_name, z, m, min_x, min_y, max_x, max_y "
        "FROM gpkg_contents c JOIN gpkg_geometry_columns USING (table_name) "
        "WHERE table_name = 'borehole_path'"
    )
    assert query(ours, sql) == query(theirs, sql)


def test_last_change_is_a_moment_to_the_millisecond(ours):
    """`%Y-%m-%dT%H:%M:%fZ` (requirement 15)."""
    pattern = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")
    assert all(
        pattern.fullmatch(t) for (t,) in query(ours, "SELECT last_change FROM gpkg_contents")
    )


def test_every_time_is_a_moment_to_the_millisecond(tmp_path):
    """Times without milliseconds are no DATETIME of version 1.3; we add them (table 1)."""
    store = Store.create(tmp_path / "s.gpkg", name="s", crs=CRS, vertical_datum="d")
    store.write(Changes("x", started_at="2031-05-04T09:30:00Z"))
    ((started, ended),) = query(store.path, "SELECT started_at, ended_at FROM run")
    assert started == "2031-05-04T09:30:00.000Z"
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", ended)


def test_the_blob_header_byte_by_byte(ours):
    """GP, version 0, flags 3 (little-endian, envelope of x and y), system, box (table 3)."""
    ((blob,),) = query(ours, "SELECT geom FROM borehole_path WHERE fid = 1")
    head = struct.unpack_from("<2sBBi4d", blob)
    assert head == (b"GP", 0, 3, 32631, 500000.0, 500003.0, 5700000.0, 5700004.0)
    assert struct.unpack_from("<BI", blob, 40) == (1, 1002)  # ISO number of a line with Z


def test_blobs_of_the_reference_are_read(theirs):
    """Shapes that GDAL wrote, with its own envelopes, come out the same."""
    blobs = [b for (b,) in query(theirs, "SELECT geom FROM borehole_path ORDER BY fid")]
    assert [list(s.coords) for s in decode(blobs)] == [list(s.coords) for s in SHAPES]


def test_the_triggers_of_the_spatial_index(theirs):
    """The names of annex F.3, and only what they do; GDAL's pass our guard as well."""
    names = {n.rsplit("_", 1)[1] for n in trigger_sql("t")}
    assert names == {"insert", "update1", "update2", "update3", "update4", "delete"}
    found = query(theirs, "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
    assert found
    assert [n for n, table, sql in found if not is_known_trigger(sql, table, ["geom"], "fid")] == []


def test_the_triggers_keep_the_index_as_the_reference_does(ours, tmp_path):
    """GDAL edits our layer, and its index is as if we had written it."""
    import shutil

    import pyogrio

    copy = tmp_path / "copy.gpkg"
    shutil.copy(ours, copy)
    more = gpd.GeoDataFrame(
        {"borehole": ["B3"], "run": [1]},
        geometry=[shapely.LineString([(500020, 5700030, 0), (500021, 5700031, -5)])],
        crs=CRS,
    )
    pyogrio.write_dataframe(more, copy, layer="borehole_path", append=True)
    boxes = query(copy, "SELECT id, minx, maxx, miny, maxy FROM rtree_borehole_path_geom")
    assert [b[0] for b in boxes] == [1, 2, 3]
    assert boxes[2][1:] == pytest.approx((500020, 500021, 5700030, 5700031), rel=1e-6)


def test_the_reference_library_refuses_what_the_rules_refuse(ours, tmp_path):
    """An append through GDAL that breaks a rule of a table is refused by the file itself."""
    import shutil

    import pyogrio

    copy = tmp_path / "copy.gpkg"
    shutil.copy(ours, copy)
    bad = gpd.GeoDataFrame(
        {"borehole": ["X"], "x": 1.0, "y": 2.0, "ground_elevation_m": 0.0, "depth_m": -5.0},
        geometry=[shapely.Point(1, 2, 0)],
        crs=CRS,
    )
    with pytest.raises(Exception, match="CHECK constraint"):
        pyogrio.write_dataframe(bad, copy, layer="borehole", append=True)
    assert query(copy, "SELECT count(*) FROM borehole") == [(0,)]


def test_descriptions_and_units_reach_the_reader(ours):
    """GDAL hands on the description of the layer, and the words of the dictionary are there."""
    import pyogrio

    metadata = pyogrio.read_info(ours, layer="borehole_path")["layer_metadata"]
    assert "minimum curvature" in metadata["DESCRIPTION"]
    assert '"program": "geoprofile"' in metadata["GPKG_METADATA_ITEM_1"]


def test_the_section_plane_opens_as_a_plane(tmp_path):
    """GDAL reads an engineering system by its name and does not place it on the map."""
    import pyogrio

    store = Store.create(tmp_path / "s.gpkg", name="s", crs=CRS, vertical_datum="d")
    holes = gpd.GeoDataFrame(
        {"section": ["A"], "borehole": ["B1"]},
        geometry=[shapely.LineString(np.array([[5.0, 2.0], [5.0, -30.0]]))],
    )
    store.write(Changes("section", derived={"section_hole": holes}))
    assert "Section sheet" in pyogrio.read_info(store.path, layer="section_hole")["crs"]
