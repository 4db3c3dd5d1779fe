"""A site file is created, written, read back and fingerprinted."""

from __future__ import annotations

import pandas as pd
import pytest

from geoprofile.errors import DamagedError, DataError, UsageError
from geoprofile.schema import INPUT, SYSTEM
from geoprofile.store import Changes, Store

CRS = "EPSG:32631"


def test_a_new_file_has_every_field_and_system_table(store):
    """The input tables stand ready for the GIS from the start."""
    assert set(store.tables()) == {t.name for t in (*INPUT, *SYSTEM)}


def test_what_is_written_is_read_back(store, make):
    """Values, missing values and elevations come back as they were given."""
    report = store.write(Changes("load", upserts={"borehole": make["boreholes"]("B1", "007")}))
    found = store.read(["borehole"]).boreholes
    assert report.rows == {"borehole": 2}
    assert list(found["borehole"]) == ["007", "B1"]
    assert found["drilled_on"].tolist() == [None, None]
    assert found.geometry.iloc[1].coords[0] == (500000.0, 5700000.0, 2.0)
    assert found.crs.to_epsg() == 32631


def test_user_columns_and_other_columns_survive_an_upsert(store, make, edit):
    """An upsert touches only the columns that it brings."""
    store.write(
        Changes("load", upserts={"borehole": make["boreholes"]("B1").assign(remarks="kept")})
    )
    edit(store, "ALTER TABLE borehole ADD COLUMN owner TEXT", "UPDATE borehole SET owner = 'us'")
    store.write(Changes("load", upserts={"borehole": make["boreholes"]("B1").assign(depth_m=31.0)}))
    row = store.read(["borehole"]).boreholes.iloc[0]
    assert (row["owner"], row["remarks"], row["depth_m"]) == ("us", "kept", 31.0)


def test_a_derived_table_is_replaced_as_a_whole(store, make):
    """Rows of the earlier run are gone, and ids begin at 1 again."""
    store.write(Changes("run", derived={"borehole_path": make["paths"]("B1", "B2", "B3")}))
    report = store.write(Changes("run", derived={"borehole_path": make["paths"]("B4")}))
    assert store.rows("borehole_path", ["borehole", "run", "fid"]) == [("B4", report.run, 1)]


def test_a_run_number_is_given_to_every_write(store):
    """The list of runs tells each command with its settings."""
    store.write(Changes("load"))
    store.write(Changes("map", settings={"cell_m": 5}))
    assert store.rows("run", ["run", "command", "settings"]) == [
        (1, "load", "{}"),
        (2, "map", '{"cell_m": 5}'),
    ]


def test_a_fingerprint_follows_content_and_nothing_else(store, make):
    """Order of loading, user columns and the run leave it alone; a value changes it."""
    store.write(Changes("load", upserts={"borehole": make["boreholes"]("B1", "B2")}))
    before = store.fingerprint("borehole")
    store.write(
        Changes("load", upserts={"borehole": make["boreholes"]("B1", "B2").assign(note_x="n")})
    )
    assert store.fingerprint("borehole") == before
    store.write(
        Changes("load", upserts={"borehole": make["boreholes"]("B1", "B2").assign(depth_m=9.0)})
    )
    assert store.fingerprint("borehole") != before


def test_an_unknown_reference_is_refused_by_name(store):
    """The error names the row's value, and nothing is stored."""
    interval = pd.DataFrame(
        {
            "interval": ["I1"],
            "borehole": ["B9"],
            "top_m": [1.0],
            "bottom_m": [2.0],
            "isolation": ["straddle"],
        }
    )
    with pytest.raises(DataError, match="'B9', which table borehole does not have"):
        store.write(Changes("load", upserts={"interval": interval}))
    assert store.rows("interval") == []
    assert store.rows("run") == []


def test_rows_of_a_batch_are_replaced_together(store, make):
    """A test read anew loses the readings that its file no longer has; other tests keep theirs."""
    tables = make["field_tables"]()
    readings = tables["reading"]
    store.write(Changes("load", upserts=tables))
    store.write(Changes("load", upserts={"reading": readings.iloc[:1]}))
    assert store.rows("reading", ["test", "elapsed_s"]) == [("T1", 0.0), ("T2", 0.0)]
    store.write(Changes("load", deletes={"reading": [("T2",)]}))
    assert store.rows("reading", ["test"]) == [("T1",)]


@pytest.mark.parametrize("crs", [None, "", "EPSG:4326", "EPSG:2263", "EPSG:28992+5709", "nonsense"])
def test_a_crs_that_distances_cannot_be_taken_in_is_refused(tmp_path, crs):
    """Missing, geographic, foot, compound and unknown systems are refused, with advice."""
    with pytest.raises(DataError, match="projected CRS in metres"):
        Store.create(tmp_path / "s.gpkg", name="s", crs=crs, vertical_datum="d")
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_not_overwritten(store):
    """Only `overwrite` does that."""
    with pytest.raises(UsageError, match="overwrite"):
        Store.create(store.path, name="s", crs=CRS, vertical_datum="d")


@pytest.mark.parametrize("content", [b"", b"x" * 200, b"SQLite format 3\x00" + b"\x00" * 200])
def test_a_file_of_another_kind_is_refused(tmp_path, content):
    """Empty, text and foreign databases are no site files."""
    path = tmp_path / "other.gpkg"
    path.write_bytes(content)
    with pytest.raises(DamagedError):
        Store.open(path)
    assert path.read_bytes() == content
