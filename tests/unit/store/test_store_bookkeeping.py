"""Runs, steps, loaded rows, files, counters, copies, and files that a GIS changed."""

from __future__ import annotations

import contextlib

import numpy as np
import pandas as pd
import pytest

from geoprofile.errors import BusyError, DamagedError, DataError, DiskError, UsageError
from geoprofile.schema import TABLES
from geoprofile.store import Changes, Store, inspect, restore, safety_copy
from geoprofile.store.connection import connect, reading


def test_steps_and_files_carry_the_run_that_wrote_them(store):
    """A step computed again has the new fingerprint and run; others keep theirs."""
    files = pd.DataFrame(
        {
            "source_file": ["a.csv"],
            "fingerprint": ["f00"],
            "source_table": ["test"],
            "rows": [3],
        }
    )
    store.write(Changes("run", steps={"a": "1", "b": "1"}, source_files=files))
    store.write(Changes("run", steps={"a": "2"}))
    steps = store.rows("step", ["step", "fingerprint", "run"])
    assert [row for row in steps if row[0] != "load"] == [("a", "2", 2), ("b", "1", 1)]
    assert store.is_as_loaded()
    assert store.rows("source_file", ["source_file", "rows", "run"]) == [("a.csv", 3, 1)]


def test_the_same_input_gives_the_same_rows_to_the_byte(tmp_path, make):
    """Two files made alike differ only in their moments, shapes and styles included."""
    contents = []
    for name in ("a.gpkg", "b.gpkg"):
        store = Store.create(tmp_path / name, name="s", crs="EPSG:32631", vertical_datum="d")
        paths = make["paths"]("B1", "B2")
        store.write(
            Changes("run", upserts=make["field_tables"](), derived={"borehole_path": paths})
        )
        with reading(store.path) as connection:
            tables = [t for (t,) in connection.execute("SELECT name FROM sqlite_master")]
            contents.append({t: dump(connection, t) for t in tables if t in RESULTS or t in TABLES})
    assert contents[0] == contents[1]


RESULTS = ("layer_styles", "gpkg_data_columns", "gpkg_geometry_columns", "rtree_area_geom_node")
MOMENTS = ("update_time", "started_at", "ended_at")


def dump(connection, table):
    columns = [r[1] for r in connection.execute(f"PRAGMA table_info({table})")]
    listed = ", ".join(f'"{c}"' for c in columns if c not in MOMENTS)
    return connection.execute(f"SELECT {listed} FROM {table} ORDER BY rowid").fetchall()


def test_loaded_rows_are_remembered_and_forgotten_by_key(store):
    """A row loaded again is updated, and a forgotten one is deleted."""
    rows = pd.DataFrame(
        {
            "source_table": ["test", "test"],
            "row_key": ["T1", "T2"],
            "fingerprint": ["1", "1"],
            "source_file": ["t.csv", "t.csv"],
        }
    )
    store.write(Changes("load", loaded=rows))
    changes = Changes(
        "load",
        loaded=rows.head(1).assign(fingerprint="2"),
        deletes={"loaded": [("test", "T2")]},
    )
    store.write(changes)
    assert store.rows("loaded", ["row_key", "fingerprint"]) == [("T1", "2")]


def test_progress_tells_every_table(filled, make):
    """Done runs from 0 to the number of tables."""
    told = []
    filled.write(
        Changes("x", upserts=make["field_tables"]()),
        progress=lambda done, total: told.append((done, total)),
    )
    assert told == [(i, 5) for i in range(6)]


def test_the_counter_of_other_software_is_kept_right(filled, make, edit):
    """A feature counter that GDAL left in the file follows our writes."""
    edit(
        filled,
        "CREATE TABLE gpkg_ogr_contents (table_name TEXT PRIMARY KEY, feature_count INTEGER)",
        "INSERT INTO gpkg_ogr_contents VALUES ('borehole_path', 1)",
    )
    filled.write(Changes("x", derived={"borehole_path": make["paths"]("B1", "B2", "B3")}))
    assert inspect(filled.path) == []


def test_a_layer_drawn_by_the_user_survives(filled, make, edit):
    """A table of the user's own in the file is left as it is."""
    edit(
        filled,
        "CREATE TABLE my_notes (fid INTEGER PRIMARY KEY, note TEXT)",
        "INSERT INTO my_notes (note) VALUES ('gate locked')",
        "INSERT INTO gpkg_contents (table_name, data_type, identifier) "
        "VALUES ('my_notes', 'attributes', 'Notes')",
    )
    filled.write(Changes("x", derived={"borehole_path": make["paths"]("B2")}))
    with_notes = filled.path.read_bytes()
    assert b"gate locked" in with_notes
    assert inspect(filled.path) == []


def test_a_column_that_the_gis_dropped_is_told(filled, edit):
    """Writing to a table that lost a column of the schema is refused by its name."""
    edit(filled, "ALTER TABLE borehole DROP COLUMN remarks")
    frame = filled.read(["borehole"]).boreholes
    with pytest.raises(DamagedError, match="no column remarks"):
        filled.write(Changes("x", upserts={"borehole": pd.DataFrame(frame[["borehole"]])}))


def test_a_derived_table_that_lost_a_column_is_made_anew(filled, edit, make):
    """Its rows are written as a whole anyway; nothing of the user's is in it."""
    edit(filled, "ALTER TABLE borehole_path DROP COLUMN surveyed")
    filled.write(Changes("x", derived={"borehole_path": make["paths"]("B1", "B2")}))
    assert inspect(filled.path) == []
    assert filled.read(["borehole_path"]).table("borehole_path")["surveyed"].tolist() == [False] * 2


def test_a_text_in_a_number_column_is_told_on_reading(filled, edit):
    """A cell that broke the column's type is named by table and column."""
    edit(
        filled,
        "PRAGMA ignore_check_constraints=ON",
        "UPDATE borehole SET depth_m = 'deep'",
    )
    with pytest.raises(DamagedError, match="column depth_m"):
        filled.read(["borehole"])


def test_a_shape_that_is_no_shape_is_told_on_reading(filled, edit):
    """The layer is named."""
    edit(filled, "UPDATE area SET geom = x'4750ff'")
    with pytest.raises(DamagedError, match="table area"):
        filled.read(["area"])


def test_user_columns_of_every_type_come_back(filled, make, edit):
    """Numbers, flags and texts of the user's own keep their types; blobs are read as bytes."""
    edit(
        filled,
        *(
            f"ALTER TABLE borehole ADD COLUMN {name} {kind}"
            for name, kind in (("n", "MEDIUMINT"), ("r", "DOUBLE"), ("f", "BOOLEAN"), ("b", "BLOB"))
        ),
        "UPDATE borehole SET n = 3, r = 1.5, f = 1, b = x'00ff' WHERE borehole = 'B1'",
    )
    row = filled.read(["borehole"]).boreholes.iloc[0]
    assert (row["n"], row["r"], row["f"], row["b"]) == (3, 1.5, True, b"\x00\xff")
    found = filled.read(["borehole"]).boreholes.dtypes
    assert [str(found[c]) for c in "nrf"] == ["Int64", "float64", "boolean"]


def test_extra_columns_of_files_are_added_with_their_type(store, make):
    """A column that the file brings and the schema lacks becomes the user's own."""
    frame = make["boreholes"]("B1", "B2").assign(crew="north", count=[1, 2], share=[0.5, None])
    store.write(Changes("load", upserts={"borehole": frame}))
    found = store.read(["borehole"]).boreholes
    assert found["crew"].tolist() == ["north", "north"]
    assert found["count"].tolist() == [1, 2]
    assert np.isnan(found["share"].iloc[1])


def test_a_setting_that_is_no_json_is_told(filled, edit):
    """The file is refused rather than guessed at."""
    edit(filled, "UPDATE site SET value = '{' WHERE name = 'name'")
    with pytest.raises(DamagedError, match="no JSON"):
        Store.open(filled.path)


def test_a_safety_copy_can_be_put_where_no_file_is(filled, tmp_path):
    """A lost file comes back from its copy; the copy itself is no target."""
    kept = safety_copy(filled.path)
    filled.path.unlink()
    assert restore(kept, filled.path) is None
    assert inspect(filled.path) == []
    with pytest.raises(UsageError):
        restore(kept, kept)


def test_a_file_in_use_is_not_replaced(filled):
    """While a GIS keeps rows beside the file, neither restore nor create takes its place."""
    kept = safety_copy(filled.path)
    with contextlib.closing(connect(filled.path)) as editor:
        editor.execute("PRAGMA journal_mode=WAL")
        editor.execute("CREATE TABLE own (t TEXT)")
        editor.execute("BEGIN IMMEDIATE")
        with pytest.raises(BusyError):
            restore(kept, filled.path)
        with pytest.raises(BusyError):
            Store.create(
                filled.path, name="s", crs="EPSG:32631", vertical_datum="d", overwrite=True
            )


def test_a_copy_needs_a_place(filled, monkeypatch):
    """A folder that takes no file is told as a fault of the disk."""
    monkeypatch.setattr(
        "geoprofile.store.safety_copies._back_up",
        lambda source, target: (_ for _ in ()).throw(OSError("no room")),
    )
    with pytest.raises(DiskError):
        safety_copy(filled.path)


@pytest.mark.parametrize(
    "name", ["site 1.gpkg", "a?b#c%20.gpkg", "Zürich!.gpkg", "-x.gpkg", "'.gpkg"]
)
def test_any_file_name_can_be_used(tmp_path, make, name):
    """Blanks, quotes and signs that mean something in addresses are part of the name."""
    folder = tmp_path / "säite ?"
    folder.mkdir()
    store = Store.create(folder / name, name="s", crs="EPSG:32631", vertical_datum="d")
    store.write(Changes("x", upserts={"borehole": make["boreholes"]("B1")}))
    assert len(Store.open(folder / name).rows("borehole")) == 1
    assert inspect(folder / name) == []
    assert list(folder.iterdir()) == [folder / name]


def test_a_missing_folder_is_told(tmp_path):
    """Create does not make folders by itself."""
    with pytest.raises(UsageError, match="no such folder"):
        Store.create(tmp_path / "a" / "s.gpkg", name="s", crs="EPSG:32631", vertical_datum="d")


def test_a_local_projected_system_is_kept_as_text(tmp_path):
    """A projected system that no authority lists comes back as it was given."""
    wkt = (
        'PROJCRS["Local grid",BASEGEOGCRS["WGS 84",DATUM["World Geodetic System 1984",'
        'ELLIPSOID["WGS 84",6378137,298.257223563,LENGTHUNIT["metre",1]]]],CONVERSION["plant",'
        'METHOD["Transverse Mercator",ID["EPSG",9807]],'
        'PARAMETER["Latitude of natural origin",0,ANGLEUNIT["degree",0.0174532925199433]],'
        'PARAMETER["Longitude of natural origin",5.123,ANGLEUNIT["degree",0.0174532925199433]],'
        'PARAMETER["Scale factor at natural origin",1,SCALEUNIT["unity",1]],'
        'PARAMETER["False easting",1234,LENGTHUNIT["metre",1]],'
        'PARAMETER["False northing",0,LENGTHUNIT["metre",1]]],CS[Cartesian,2],'
        'AXIS["easting",east],AXIS["northing",north],LENGTHUNIT["metre",1]]'
    )
    store = Store.create(tmp_path / "s.gpkg", name="s", crs=wkt, vertical_datum="d")
    store.write(Changes("x", site={"name": "t", "vertical_datum": "d", "crs": wkt}))
    assert "Local grid" in store.settings()["crs"]
    assert store.read(["borehole"]).boreholes.crs.name == "Local grid"
    assert inspect(store.path) == []


def test_an_unknown_place_of_a_key_is_a_data_error(store):
    """Deleting from a derived table is not a thing."""
    with pytest.raises(DataError, match="borehole_path"):
        store.write(Changes("x", deletes={"borehole_path": [("B1",)]}))
