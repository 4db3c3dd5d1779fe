"""Dictionary, provenance, styles, snapshots, and what a write refuses."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import subprocess
import sys

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.errors import BusyError, DamagedError, DataError, DiskError
from geoprofile.schema import TABLES
from geoprofile.store import Changes, Store, edits, inspect
from geoprofile.store.blobs import BlobError, Walk, decode, encode
from geoprofile.store.connection import quoted, reading
from geoprofile.store.layout import index_sql, label, table_sql
from geoprofile.store.reader import LayerFacts, verify
from geoprofile.store.reference import site_reference, suggested_crs


def query(store, sql, *values):
    with reading(store.path) as connection:
        return connection.execute(sql, values).fetchall()


@pytest.mark.parametrize("table", TABLES.values(), ids=list(TABLES))
def test_every_table_can_be_made(table):
    """The statements of each table are SQL that SQLite takes."""
    with contextlib.closing(sqlite3.connect(":memory:")) as connection:
        connection.execute(table_sql(table))
        for statement in index_sql(table):
            connection.execute(statement)


@pytest.mark.parametrize("table", TABLES.values(), ids=list(TABLES))
def test_no_two_columns_of_a_table_have_the_same_words(table):
    """GeoPackage wants the name of each described column once per table."""
    names = [label(c) for c in table.columns]
    assert len(set(names)) == len(names)


def test_the_dictionary_tells_meaning_unit_and_limits(filled):
    """A GIS shows the words, the unit and the allowed values of each column."""
    ((name, description, rule),) = query(
        filled,
        "SELECT name, description, constraint_name FROM gpkg_data_columns "
        "WHERE table_name = 'construction' AND column_name = 'kind'",
    )
    allowed = query(
        filled, "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = ?", rule
    )
    assert name == "What is there"
    assert "one of: casing" in description
    assert ("screen",) in allowed
    ((unit,),) = query(
        filled, "SELECT name FROM gpkg_data_columns WHERE column_name = 'ground_elevation_m'"
    )
    assert unit.endswith("[m]")


def test_no_number_has_a_range_in_the_dictionary(filled, make):
    """A GIS would round it; what an older version left is taken out by the next write."""
    ranges = "SELECT count(*) FROM gpkg_data_column_constraints WHERE constraint_type = 'range'"
    assert query(filled, ranges) == [(0,)]
    with contextlib.closing(sqlite3.connect(filled.path)) as connection, connection:
        connection.execute(
            "INSERT INTO gpkg_data_column_constraints VALUES "
            "('test_kv_kh', 'range', NULL, 0, 0, 10, 1, NULL)"
        )
        connection.execute(
            "UPDATE gpkg_data_columns SET constraint_name = 'test_kv_kh' "
            "WHERE table_name = 'test' AND column_name = 'kv_kh'"
        )
        connection.execute(
            "UPDATE layer_styles SET styleQML = '<qgis/>' WHERE f_table_name = 'test'"
        )
    assert [f.code for f in inspect(filled.path)] == ["form"]
    filled.write(Changes("map", derived={"borehole_path": make["paths"]("B2")}))
    assert query(filled, ranges) == [(0,)]
    (form,) = query(filled, "SELECT styleQML FROM layer_styles WHERE f_table_name = 'test'")
    assert "fieldConfiguration" in form[0]
    assert inspect(filled.path) == []


def test_provenance_is_kept_with_the_layer(filled, make):
    """Command, settings and inputs of the last run are the metadata of the layer, once."""
    changes = Changes(
        "map",
        settings={"cell_m": 5},
        inputs={"a.csv": "f00"},
        derived={"borehole_path": make["paths"]("B2")},
    )
    report = filled.write(changes)
    texts = query(
        filled,
        "SELECT metadata FROM gpkg_metadata JOIN gpkg_metadata_reference ON md_file_id = id "
        "WHERE table_name = 'borehole_path'",
    )
    told = json.loads(texts[0][0])
    assert len(texts) == 1
    assert (told["command"], told["run"], told["inputs"]) == ("map", report.run, {"a.csv": "f00"})


def test_a_style_that_the_user_saved_is_kept(filled, make, edit):
    """Ours steps back while the user has a default of their own."""
    edit(
        filled,
        "UPDATE layer_styles SET useAsDefault = 0 WHERE f_table_name = 'borehole_path'",
        "INSERT INTO layer_styles (f_table_name, styleName, styleQML, useAsDefault, owner) "
        "VALUES ('borehole_path', 'mine', '<qgis/>', 1, '')",
    )
    filled.write(Changes("map", derived={"borehole_path": make["paths"]("B2")}))
    found = query(
        filled,
        "SELECT styleName, useAsDefault, styleQML = '<qgis/>' FROM layer_styles "
        "WHERE f_table_name = 'borehole_path' ORDER BY id",
    )
    assert found == [("geoprofile", 0, 0), ("mine", 1, 1)]
    assert inspect(filled.path) == []


def test_settings_are_replaced_as_a_whole(store):
    """A setting that site.toml no longer has is gone; the CRS stays."""
    store.write(Changes("load", site={"name": "N", "vertical_datum": "d", "map": {"cell": 1}}))
    store.write(Changes("load", site={"name": "M", "vertical_datum": "d", "crs": "epsg:32631"}))
    site = store.read([])
    assert (site.name, site.crs, dict(site.settings)) == ("M", "EPSG:32631", {})
    with pytest.raises(DataError, match="another CRS"):
        store.write(Changes("load", site={"name": "M", "crs": "EPSG:32632"}))


def test_types_come_back_as_the_schema_says(filled):
    """Texts are str or None, whole numbers and flags can be missing, numbers are floats."""
    site = filled.read()
    paths = site.table("borehole_path")
    assert paths["surveyed"].dtype == "boolean"
    assert paths["run"].dtype == "Int64"
    assert site.table("reading")["elapsed_s"].dtype == np.float64
    assert site.tests["remarks"].tolist() == [None, None]
    assert site.table("section_band").empty


def test_times_are_stored_as_the_standard_wants_and_come_back_as_given(filled, make):
    """Milliseconds are added in the file, and zero ones left out again; real ones are kept."""
    tests = make["field_tables"]()["test"]
    given = ["2031-05-04T09:30:00Z", "2031-05-04T09:30:00.250Z"]
    filled.write(Changes("x", upserts={"test": tests.assign(started_at=given)}))
    stored = query(filled, "SELECT started_at FROM test ORDER BY test")
    assert stored == [("2031-05-04T09:30:00.000Z",), ("2031-05-04T09:30:00.250Z",)]
    assert filled.rows("test", ["started_at"]) == [(t,) for t in given]
    assert filled.read(["test"]).tests["started_at"].tolist() == given


def test_a_section_table_has_the_plane_of_the_sections(store):
    """Its rows are in the section sheet, not on the map."""
    band = gpd.GeoDataFrame(
        {
            "section": ["A"],
            "quantity": ["K"],
            "statistic": ["median"],
            "unit": ["m/s"],
            "label": ["x"],
        },
        geometry=[shapely.box(0, -10, 50, 0)],
    )
    store.write(Changes("section", derived={"section_band": band}))
    assert query(store, "SELECT srs_id FROM gpkg_contents WHERE table_name = 'section_band'") == [
        (100001,)
    ]
    found = store.read(["section_band"]).table("section_band")
    assert found.crs is None
    assert found.geometry.iloc[0].geom_type == "MultiPolygon"  # promoted to the layer's type
    assert inspect(store.path) == []


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (shapely.Point(0, 0), "a Point"),
        (shapely.LineString([(0, 0), (1, 1)]), "without elevation"),
        (shapely.LineString([(0, 0, 0), (np.inf, 1, 1)]), "infinity"),
        (shapely.LineString([(0, 0, 0), (1, 1, np.nan)]), "NaN"),
    ],
)
def test_a_shape_that_does_not_fit_the_layer_is_refused(store, make, shape, words):
    """Another type, a missing elevation and infinite coordinates are told, nothing is stored."""
    frame = make["paths"]("B1").set_geometry([shape])
    with pytest.raises(DataError, match=words):
        store.write(Changes("x", derived={"borehole_path": frame}))
    assert "borehole_path" not in store.tables()


@pytest.mark.parametrize(
    ("table", "column", "value", "words"),
    [
        ("borehole", "depth_m", -1.0, "breaks a rule"),
        ("borehole", "depth_m", np.inf, "infinite"),
        ("borehole", "depth_m", None, "nothing in row 1"),
        ("borehole", "remarks", 5, "no text"),
        ("interval", "isolation", "hope", "breaks a rule"),
    ],
)
def test_a_value_that_breaks_the_schema_is_refused(filled, make, table, column, value, words):
    """The rules of the schema are the last line, also for programs of ours."""
    frame = make["field_tables"]()[table]
    frame[column] = pd.Series([value] * len(frame), dtype=object)
    with pytest.raises(DataError, match=words):
        filled.write(Changes("x", upserts={table: frame}))
    assert len(filled.rows("run")) == 1


def test_wrong_tables_columns_and_keys_are_refused(store, make):
    """Each with its name."""
    frame = make["boreholes"]("B1")
    for changes, words in (
        (Changes("x", upserts={"borehole_path": frame}), "borehole_path"),
        (Changes("x", derived={"borehole": frame}), "borehole"),
        (Changes("x", upserts={"borehole": frame.drop(columns="borehole")}), "its key"),
        (Changes("x", upserts={"borehole": pd.concat([frame, frame])}), "B1 twice"),
        (Changes("x", upserts={"borehole": frame.assign(**{"Bad Name": 1})}), "Bad Name"),
        (Changes("x", derived={"finding": pd.DataFrame({"nonsense": [1]})}), "nonsense"),
    ):
        with pytest.raises(DataError, match=words):
            store.write(changes)
    with pytest.raises(DataError, match="no table"):
        store.fingerprint("nonsense")


def test_a_moved_collar_is_told(filled, edit):
    """A point moved in the GIS against its columns is a finding with the distance."""
    edit(filled, "UPDATE borehole SET x = x + 3, y = y - 4 WHERE borehole = 'B2'")
    (found,) = edits(filled.path)
    assert found.place.endswith("B2")
    assert "5.00 m" in found.what


def test_blobs_survive_the_round_trip():
    """Every type in use, flat and with Z, empty and missing, comes back the same."""
    shapes = np.array(
        [
            shapely.Point(1, 2),
            shapely.LineString([(0, 0), (3, 4)]),
            shapely.box(0, 0, 1, 1),
            shapely.MultiPolygon([shapely.box(0, 0, 1, 1)]),
            shapely.Polygon(),
            None,
        ],
        dtype=object,
    )
    back = decode(encode(shapes, 4326))
    assert [None if s is None else s.wkt for s in back] == [
        None if s is None else s.wkt for s in shapes
    ]
    deep = np.array([shapely.Point(1, 2, -3), shapely.LineString([(0, 0, 1), (0, 0, -9)])])
    assert [s.wkt for s in decode(encode(deep, 1))] == [s.wkt for s in deep]


@pytest.mark.parametrize("blob", [b"", b"GP", b"XX" + bytes(20), b"GP\x00\x0f" + bytes(60)])
def test_what_is_no_blob_is_told(blob):
    """Short, foreign and unknown headers are refused."""
    with pytest.raises(BlobError):
        decode([blob])


@pytest.mark.parametrize(
    "data",
    [
        b"\x05",
        b"\x01\x63\x00\x00\x00",
        b"\x01\x02\x00\x00\x00\xff\xff\xff\xff",
        shapely.to_wkb(shapely.Point(1, 2)) + b"x",
    ],
)
def test_a_walk_through_broken_bytes_ends(data):
    """Bad marks, types, counts and leftovers are refused without reading past the end."""
    with pytest.raises(BlobError):
        Walk(data)


def test_what_is_read_back_must_be_what_was_meant(filled):
    """A wrong count, type, elevation, CRS or extent is told by the independent reader."""
    crs = site_reference("EPSG:32631")
    right = LayerFacts("borehole", 2, "POINT", True, crs, None)
    verify(filled.path, [right])
    for wrong in (
        LayerFacts("borehole", 3, "POINT", True, crs, None),
        LayerFacts("borehole", 2, "POLYGON", True, crs, None),
        LayerFacts("borehole", 2, "POINT", False, crs, None),
        LayerFacts("borehole", 2, "POINT", True, site_reference("EPSG:32632"), None),
        LayerFacts("borehole", 2, "POINT", True, crs, (0.0, 0.0, 1.0, 1.0)),
    ):
        with pytest.raises(DamagedError, match="read back"):
            verify(filled.path, [wrong])


def test_the_other_reader_says_the_same(filled, monkeypatch):
    """Where fiona has no wheel, pyogrio verifies as well."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    crs = site_reference("EPSG:32631")
    extent = (500000.0, 5700000.0, 500010.0, 5700005.0)
    verify(filled.path, [LayerFacts("borehole", 2, "POINT", True, crs, extent)])
    verify(filled.path, [LayerFacts("test", 2, "", False, None, None)])
    with pytest.raises(DamagedError):
        verify(filled.path, [LayerFacts("borehole", 1, "POINT", True, crs, extent)])


def test_no_connection_is_open_while_another_library_reads(filled, make, monkeypatch):
    """Two copies of SQLite in one process drop each other's locks on the same file."""
    open_now, seen = set(), []
    connect = sqlite3.connect

    class Counted(sqlite3.Connection):
        def close(self):
            open_now.discard(id(self))
            super().close()

    def counting(*args, **kwargs):
        connection = connect(*args, factory=Counted, **kwargs)
        open_now.add(id(connection))
        return connection

    monkeypatch.setattr(sqlite3, "connect", counting)
    monkeypatch.setattr(
        "geoprofile.store.store.verify", lambda path, facts: seen.append((len(open_now), facts))
    )
    filled.write(Changes("x", derived={"borehole_path": make["paths"]("B1")}))
    Store.create(filled.path.with_name("b.gpkg"), name="b", crs="EPSG:32631", vertical_datum="d")
    assert [count for count, _ in seen] == [0, 0]


def test_reading_fingerprints_needs_no_heavy_library(filled):
    """A command that finds everything fresh starts without pandas and GIS libraries."""
    code = (
        "import sys; from geoprofile.store import Store; s = Store.open(sys.argv[1]); "
        "s.fingerprint('reading'); s.rows('run'); "
        "print([m for m in ('pandas', 'geopandas', 'shapely', 'numpy', 'fiona') "
        "if m in sys.modules])"
    )
    found = subprocess.run(
        [sys.executable, "-c", code, str(filled.path)], capture_output=True, text=True, check=True
    )
    assert found.stdout.strip() == "[]"


def test_a_fitting_crs_is_suggested():
    """Known places by their UTM zone (zone numbers by the 6 degree rule, common practice)."""
    assert suggested_crs(4.9, 52.4).startswith("EPSG:32631")
    assert suggested_crs(-70.0, -33.4).startswith("EPSG:32719")
    assert suggested_crs(179.9, 1.0).startswith("EPSG:32660")
    with pytest.raises(DataError, match="EPSG:32633"):
        site_reference("EPSG:4326", near=(15.0, 50.0))


def test_names_are_quoted_in_one_place():
    """A quote in a name is doubled, a NUL is refused."""
    assert quoted('a"b') == '"a""b"'
    with pytest.raises(DamagedError):
        quoted("a\x00b")


def test_the_exit_codes_of_the_store_differ():
    """Busy, disk and damage are told apart by a script."""
    assert [e.exit_code for e in (BusyError, DiskError, DamagedError)] == [3, 4, 5]
