"""Files and the GIS change the same tables: what was edited where is told, and nothing is lost."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3

import numpy as np
import pytest
import shapely

from geoprofile.store import Store
from geoprofile.store.blobs import encode

pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def ran(ran_once, tmp_path):
    """The folder of the small site after one run."""
    return shutil.copytree(ran_once, tmp_path / "ran")


def told(folder):
    """(table, key, what, severity) of the findings on files against the database."""
    rows = Store.open(folder / "site.gpkg").rows(
        "finding", ["source_table", "row_key", "what", "severity", "step"]
    )
    return [row[:4] for row in rows if row[4] == "load"]


MOVE_POINT = (
    "UPDATE borehole SET geom = (SELECT geom FROM borehole WHERE borehole = 'B2') "
    "WHERE borehole = 'B1'"
)


def test_a_collar_moved_on_the_map_is_told_and_the_columns_count(ran, geoprofile, edit):
    """The point of B1 is dragged onto B2; the distance is read out, and again by the next run."""
    edit(ran / "site.gpkg", MOVE_POINT)
    answer = geoprofile("run", ran, "--verbose")
    assert answer.returncode == 0, answer.stderr
    ((table, key, what, severity),) = told(ran)
    assert (table, key, severity) == ("borehole", "B1", "warning")
    assert "its point moved 40.3 m on the map" in what  # (40, 5) m apart
    assert "borehole B1 its point moved 40.3 m" in answer.stdout
    assert "borehole_path" in answer.stderr  # what depends on the table was stale
    again = geoprofile("run", ran)
    assert "Nothing has changed" in again.stderr
    assert "40.3 m" in again.stdout


def test_a_collar_moved_by_its_columns_is_told_with_what_the_file_says(ran, geoprofile, edit):
    """The new place is computed with; the file's is named."""
    edit(ran / "site.gpkg", "UPDATE borehole SET x = x + 12.3 WHERE borehole = 'B1'")
    answer = geoprofile("run", ran, "--verbose")
    ((_, key, what, severity),) = told(ran)
    assert (key, severity) == ("B1", "warning")
    assert what.startswith("moved 12.3 m since it was loaded; its file still says x 500000.00")
    computed = next(x for x in answer.stderr.splitlines() if x.startswith("computed:"))
    assert {"borehole_path", "model"} <= set(computed.removeprefix("computed: ").split(", "))
    assert "conductivity" in computed
    path = Store.open(ran / "site.gpkg").read(["borehole_path"]).table("borehole_path")
    assert path.set_index("borehole").geometry["B1"].coords[0][0] == pytest.approx(500012.3)


def test_all_else_that_changed_with_a_move_is_told(ran, geoprofile, edit):
    """A measuring point set to nought with the collar moved is not hidden behind the move."""
    edit(
        ran / "site.gpkg",
        "UPDATE borehole SET ground_elevation_m = 100.2, measuring_point_height_m = 0.4, "
        "remarks = 'new cap' WHERE borehole = 'B1'",
        MOVE_POINT,
    )
    answer = geoprofile("load", ran / "site.gpkg", ran)
    ((_, key, what, severity),) = told(ran)
    assert (key, severity) == ("B1", "warning")
    assert "moved 0.2 m" in what
    assert "measuring_point_height_m is 0 in the file, 0.4 here" in what
    assert "remarks is nothing in the file, new cap here" in what
    assert "1 finding(s)" in answer.stderr
    assert "Nothing new" not in answer.stderr


def test_the_cells_that_changed_within_a_log_are_told(ran, geoprofile, edit):
    """Tables that are loaded hole by hole name the row and the column too."""
    edit(
        ran / "site.gpkg",
        "UPDATE construction SET diameter_mm = 97 WHERE borehole = 'B1' AND kind = 'casing'",
        "UPDATE construction SET remarks = 'rough' WHERE borehole = 'B2' AND kind = 'open hole'",
    )
    geoprofile("load", ran / "site.gpkg", ran)
    first, second = (what for _, _, what, _ in told(ran))
    assert "top_m 0, kind casing, diameter_mm 96 is only in the file" in first
    assert "diameter_mm 97 is only here" in first
    assert "remarks is nothing in the file, rough here" in second


def test_a_reshaped_and_renamed_area_tells_both(ran, geoprofile, edit):
    """The shape is named beside the column."""
    ring = shapely.Polygon([(500000, 5300000), (500040, 5300000), (500040, 5300030)])
    (shape,) = encode(np.array([ring], dtype=object), 32632)
    edit(ran / "site.gpkg", f"UPDATE area SET kind = 'source', geom = x'{shape.hex()}'")
    geoprofile("load", ran / "site.gpkg", ran)
    ((_, _, what, _),) = told(ran)
    assert "kind is site in the file, source here; the shapes differ" in what


def test_a_renamed_borehole_is_told_before_what_it_breaks(ran, geoprofile, edit):
    """The run stops at the intervals that still name it, after saying why."""
    edit(ran / "site.gpkg", "UPDATE borehole SET borehole = 'B9' WHERE borehole = 'B2'")
    answer = geoprofile("run", ran)
    assert answer.returncode == 1
    first, *rest = answer.stderr.splitlines()
    assert "renamed to 'B9' in the database" in first
    assert any("interval B2-1" in line for line in rest)


def test_a_deleted_borehole_is_told_before_what_it_breaks(ran, geoprofile, edit):
    """Its intervals are left without it; --prefer files brings it back."""
    edit(ran / "site.gpkg", "DELETE FROM borehole WHERE borehole = 'B3'")
    answer = geoprofile("run", ran)
    assert answer.returncode == 1
    assert "deleted in the database" in answer.stderr.splitlines()[0]
    answer = geoprofile("load", ran / "site.gpkg", ran, "--prefer", "files")
    assert "1 edit(s) of the database undone as asked" in answer.stderr
    assert len(Store.open(ran / "site.gpkg").rows("borehole")) == 3


def test_other_edits_are_notes_with_both_values(ran, geoprofile, edit):
    """A status set in the GIS, a deleted criterion and a drawn line that was reshaped."""
    line = shapely.LineString([(500000, 5300000), (500040, 5300020)])
    (shape,) = encode(np.array([line], dtype=object), 32632)
    edit(
        ran / "site.gpkg",
        "UPDATE test SET status = 'exclude' WHERE test = 'TB1-2'",
        "DELETE FROM criterion",
        f"UPDATE section_line SET geom = x'{shape.hex()}'",
    )
    answer = geoprofile("load", ran / "site.gpkg", ran)
    assert answer.returncode == 0, answer.stderr
    found = {table: (what, severity) for table, _, what, severity in told(ran)}
    assert "status is use in the file, exclude here" in found["test"][0]
    assert "was deleted in the database" in found["criterion"][0]
    assert "the shapes differ" in found["section_line"][0]
    assert {severity for _, severity in found.values()} == {"note"}


def test_a_time_that_a_gis_wrote_without_a_zone_is_utc(ran, geoprofile, edit):
    """A form shows UTC and writes no zone; after a load the file holds the whole time again."""
    site = ran / "site.gpkg"
    edit(site, "UPDATE test SET started_at = '2026-05-05T09:15:00.000' WHERE test = 'TB1-2'")
    geoprofile("load", site, ran)
    ((_, key, what, _),) = told(ran)
    assert key == "TB1-2"
    assert what.count(" here") == 1
    assert "started_at is 2026-05-05T08:00:00Z in the file" in what  # 10:00 in Rome
    with contextlib.closing(sqlite3.connect(site)) as connection:
        query = "SELECT started_at FROM test WHERE test = 'TB1-2'"
        assert connection.execute(query).fetchone() == ("2026-05-05T09:15:00.000Z",)
    assert geoprofile("check", site).returncode == 0
    assert "Nothing new" in geoprofile("load", site, ran).stderr


def test_many_edits_are_told_together(ran, geoprofile, edit):
    """The first ten one by one, then a count."""
    edit(
        ran / "site.gpkg",
        "UPDATE construction SET diameter_mm = 97",
        "UPDATE reading SET number = number",
    )
    edit(ran / "site.gpkg", "UPDATE interval SET static_depth_m = 3.1")
    edit(ran / "site.gpkg", "UPDATE test SET water_temperature_c = 11")
    geoprofile("load", ran / "site.gpkg", ran)
    by_table = {t: [f for f in told(ran) if f[0] == t] for t in ("interval", "test", "reading")}
    assert [len(v) for v in by_table.values()] == [9, 9, 0]


def test_preferring_files_undoes_edits_after_a_safety_copy(ran, geoprofile, edit):
    """Edited and deleted rows are as the files have them, even where nothing else changed."""
    site = ran / "site.gpkg"
    edit(site, "UPDATE borehole SET depth_m = 33 WHERE borehole = 'B1'", "DELETE FROM section_line")
    geoprofile("load", site, ran)
    assert len(told(ran)) == 2
    answer = geoprofile("run", ran, "--prefer", "files")
    assert "2 edit(s) of the database undone" in answer.stderr
    assert told(ran) == []
    assert Store.open(site).rows("borehole", ["depth_m"])[0] == (25,)
    assert len(Store.open(site).rows("section_line")) == 1
    (copy,) = ran.glob("site.before-load-*.gpkg")
    assert Store.open(copy).rows("borehole", ["depth_m"])[0] == (33,)


def test_preferring_the_database_keeps_edits(ran, geoprofile, edit):
    """Edited in both: the row of the database stays, and the difference is a note from then on."""
    edit(ran / "site.gpkg", "UPDATE criterion SET value = 7")
    (ran / "criteria.csv").write_text("analyte,value,unit,basis\nTCE,20,ug/L,made up\n")
    assert geoprofile("load", ran / "site.gpkg", ran).returncode == 0
    assert told(ran)[0][3] == "serious"
    assert geoprofile("load", ran / "site.gpkg", ran, "--prefer", "database").returncode == 0
    ((_, _, what, severity),) = told(ran)
    assert severity == "note"
    assert "value is 20 in the file, 7 here" in what


def test_a_file_that_vanished_is_told_until_pruned(ran, geoprofile):
    """Its rows stay, are told by each load, and go with --prune after a safety copy."""
    (ran / "construction.csv").unlink()
    for _ in range(2):
        answer = geoprofile("load", ran / "site.gpkg", ran)
        assert answer.returncode == 0, answer.stderr
    ((table, key, what, severity),) = told(ran)
    assert (table, key, severity) == ("construction", "construction.csv", "warning")
    assert what.startswith("the rows of 3 borehole(s) came from it, but it is not in the folder")
    store = Store.open(ran / "site.gpkg")
    assert len(store.rows("construction")) == 6
    answer = geoprofile("load", store.path, ran, "--prune")
    assert "3 row(s) or sets of rows deleted" in answer.stderr
    assert told(ran) == []
    assert store.rows("construction") == []
    assert ("construction.csv",) not in store.rows("source_file", ["source_file"])
    assert len(list(ran.glob("site.before-load-*.gpkg"))) == 1


def test_a_renamed_file_is_no_loss(ran, geoprofile):
    """The rows belong to the file that has them now."""
    (ran / "boreholes.csv").rename(ran / "borehole.csv")
    assert geoprofile("load", ran / "site.gpkg", ran, "--prune").returncode == 0
    store = Store.open(ran / "site.gpkg")
    assert told(ran) == []
    assert len(store.rows("borehole")) == 3
    names = {name for (name,) in store.rows("source_file", ["source_file"])}
    assert "borehole.csv" in names
    assert "boreholes.csv" not in names


def test_one_file_loaded_alone_says_nothing_of_the_others(ran, geoprofile):
    """Only a whole folder can lack a file; earlier findings on other tables stay."""
    (ran / "criteria.csv").unlink()
    geoprofile("load", ran / "site.gpkg", ran)
    before = told(ran)
    assert len(before) == 1
    path = ran / "boreholes.csv"
    path.write_text(path.read_text().replace(",25,", ",26,", 1))
    assert geoprofile("load", ran / "site.gpkg", path).returncode == 0
    assert told(ran) == before


def test_a_change_in_a_column_of_the_users_own_is_taken(ran, geoprofile, query, edit):
    """Declared in site.toml, added later, changed in the file, edited in the GIS."""
    toml = ran / "site.toml"
    toml.write_text(toml.read_text() + '[intake]\nextra_columns = ["crew"]\n')
    holes = ran / "boreholes.csv"
    lines = holes.read_text().splitlines()
    crews = ["crew", "north", "north", ""]
    holes.write_text("\n".join(f"{a},{b}" for a, b in zip(lines, crews, strict=True)) + "\n")
    site = ran / "site.gpkg"
    asked = "SELECT crew FROM borehole ORDER BY borehole"
    assert geoprofile("load", site, ran).returncode == 0
    assert query(site, asked) == [("north",), ("north",), (None,)]
    holes.write_text(holes.read_text().replace("north", "south", 1))
    assert geoprofile("load", site, ran).stderr.startswith("borehole: 1 row(s)")
    assert query(site, asked) == [("south",), ("north",), (None,)]
    edit(site, "UPDATE borehole SET crew = 'east' WHERE borehole = 'B2'")
    geoprofile("load", site, ran)
    assert query(site, asked) == [("south",), ("east",), (None,)]
    assert "crew is north in the file, east here" in told(ran)[0][2]
