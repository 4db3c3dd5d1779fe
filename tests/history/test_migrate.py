"""Site files of earlier layouts are told, brought up to date on request, and then go on."""

from __future__ import annotations

import gzip
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from geoprofile import app
from geoprofile.schema import INPUT, SCHEMA_VERSION, SYSTEM, TABLES, renamed
from geoprofile.store import Store, inspect

FILES = Path(__file__).parent / "files"


def layout_of(name):
    """The layout of a kept file by its name."""
    return int(name.split("_")[2])


NAMES = sorted(path.name.removesuffix(".gpkg.gz") for path in FILES.glob("site_layout_*.gpkg.gz"))
KEPT = [name for name in NAMES if layout_of(name) < SCHEMA_VERSION]


@dataclass(frozen=True)
class Migrated:
    """A kept file before and after its migration, in a folder of its own; nothing is changed."""

    layout: int
    before: Path
    after: Path
    copy: Path

    def again(self, folder):
        """The file after the migration, in that folder to be changed."""
        return Path(shutil.copy(self.after, folder / "site.gpkg"))


@pytest.fixture(scope="module", params=KEPT)
def older(request, tmp_path_factory):
    """Each kept file, migrated once for all."""
    folder = tmp_path_factory.mktemp(request.param)
    before, after = folder / "before.gpkg", folder / "site.gpkg"
    before.write_bytes(gzip.decompress((FILES / f"{request.param}.gpkg.gz").read_bytes()))
    shutil.copy(before, after)
    copy = app.migrate(after)
    assert copy is not None
    return Migrated(layout_of(request.param), before, after, copy)


def test_every_layout_so_far_has_a_kept_file():
    """A layout that left the house must be readable for ever."""
    assert {layout_of(name) for name in KEPT} == set(range(1, SCHEMA_VERSION))


def rows_of(query, path):
    """The rows of every input table, in the columns that it has."""
    old = {new: was for was, new in renamed.TABLES.items()}
    found = {}
    for table in INPUT:
        for name in (table.name, old.get(table.name, table.name)):
            columns = [r[0] for r in query(path, f"SELECT name FROM pragma_table_info('{name}')")]
            if columns:
                found[table.name] = {
                    c: query(path, f'SELECT fid, "{c}" FROM {name} ORDER BY fid') for c in columns
                }
    return found


def under_present_names(rows):
    """The same rows, columns named as they are today."""
    return {
        table: {renamed.COLUMNS.get(table, {}).get(c, c): r for c, r in columns.items()}
        for table, columns in rows.items()
    }


def test_an_older_file_is_refused_with_the_command_to_run(older, geoprofile):
    """Nothing is read wrongly or changed; the message names file and command."""
    path = older.before
    before = path.read_bytes()
    for words in (("show", path, "borehole"), ("interpolate", path)):
        answer = geoprofile(*words)
        assert answer.returncode == 1
        assert f"geoprofile migrate {path}" in answer.stderr
    assert path.read_bytes() == before
    assert "geoprofile migrate" in geoprofile("check", path).stdout


def test_migration_keeps_every_row_and_gives_the_layout_of_a_new_file(older, query, tmp_path):
    """Tables, rules and indexes are those of a file made today; rows and their numbers stay."""
    before = under_present_names(rows_of(query, older.before))
    assert inspect(older.after) == []
    after = rows_of(query, older.after)
    for name, columns in before.items():
        for column, rows in columns.items():
            assert after[name][column] == rows, (name, column)
    Store.create(tmp_path / "new.gpkg", name="n", crs="EPSG:32632", vertical_datum="d")
    for kind in ("table", "index", "trigger"):
        laws = {
            path.name: {
                (name, table): sql
                for name, table, sql in query(
                    path,
                    f"SELECT name, tbl_name, sql FROM sqlite_master WHERE type = '{kind}'",
                )
                if table in [t.name for t in (*INPUT, *SYSTEM)]
            }
            for path in (older.after, tmp_path / "new.gpkg")
        }
        assert laws["site.gpkg"] == laws["new.gpkg"]
    for table in TABLES:
        found = [c for (c,) in query(older.after, f"SELECT name FROM pragma_table_info('{table}')")]
        assert not found or set(found) - {"fid", "geom"} == {c.name for c in TABLES[table].columns}


def test_the_schema_is_that_of_the_kept_file_of_its_version(kept, query):
    """A column that joins or leaves raises SCHEMA_VERSION, or files out there could not be read."""
    name = f"site_layout_{SCHEMA_VERSION}"
    if not (FILES / f"{name}.gpkg.gz").exists():
        pytest.skip(f"layout {SCHEMA_VERSION} is not final: keep_layout.py has not been run")
    path = kept(name)
    for table in TABLES.values():
        found = {c for (c,) in query(path, f"SELECT name FROM pragma_table_info('{table.name}')")}
        if found:
            assert found - {"fid", "geom"} == {c.name for c in table.columns}, table.name


def test_migration_leaves_a_safety_copy_of_the_old_file(older, query):
    """The copy is whole and of the old layout."""
    assert [older.copy] == list(older.after.parent.glob("site.before-migration-*.gpkg"))
    assert rows_of(query, older.copy) == rows_of(query, older.before)
    ((version,),) = query(older.copy, "SELECT value FROM site WHERE name = 'schema_version'")
    assert int(version) == older.layout
    found = {f.code for f in inspect(older.copy) if f.severity == "error"}
    assert found <= {"layout", "table", "column"}


def test_a_second_migration_changes_nothing(older, geoprofile, tmp_path):
    """It says so, and makes no further copy."""
    path = older.again(tmp_path)
    assert "up to date" in geoprofile("migrate", path).stdout
    assert path.read_bytes() == older.after.read_bytes()
    assert list(tmp_path.glob("*.gpkg")) == [path]


def test_the_command_names_its_safety_copy(kept, geoprofile):
    """What to put back if need be."""
    path = kept(KEPT[-1])
    answer = geoprofile("migrate", path)
    assert answer.returncode == 0, answer.stderr
    (copy,) = path.parent.glob("site.before-migration-*.gpkg")
    assert str(copy) in answer.stdout


def test_the_same_files_loaded_after_migration_change_nothing(older, geoprofile, yard):
    """The memory of what was loaded survives: no row is taken for changed on either side."""
    older.again(yard)
    (yard / "criteria.csv").write_text("analyte,value,unit,basis\nTCE,20,ug/L,made up\n")
    answer = geoprofile("load", yard / "site.gpkg", yard)
    assert answer.returncode == 0, answer.stderr
    *notes, stored = answer.stderr.splitlines()
    assert stored == "criterion: 1 row(s)"
    # files that the folder of the test does not have are told, and nothing else
    assert all("not in the folder any more" in note for note in notes[1:])
    table = Store.open(yard / "site.gpkg").read().table("finding")
    assert not table["what"].str.contains("both sides").any()


def test_rows_edited_before_migration_stay_and_are_told(kept, geoprofile, yard, edit):
    """An edit and a deletion in the GIS of an old file are notes with both values, twice alike."""
    path = kept("site_layout_1_early")
    edit(
        path,
        "UPDATE borehole SET depth_m = 26 WHERE borehole = 'B2'",
        "DELETE FROM criterion",
        "UPDATE reading SET displacement_m = 0.5 WHERE test = 'TB1-1' AND number = 3",
    )
    geoprofile("migrate", path)
    site = yard / "site.gpkg"
    shutil.move(path, site)
    for _ in range(2):
        assert geoprofile("load", site, yard).returncode == 0
        columns = ["source_table", "row_key", "what", "severity", "step"]
        rows = [r for r in Store.open(site).rows("finding", columns) if r[4] == "load"]
        told = {row[:2]: row[2] for row in rows}
        assert {row[3] for row in rows} == {"note"}
        assert "depth_m is 25 in the file, 26 here" in told["borehole", "B2"]
        (criterion,) = [what for key, what in told.items() if key[0] == "criterion"]
        assert "deleted in the database" in criterion
        assert "was edited in the database" in told["reading", "TB1-1"]
        edit(site, "UPDATE borehole SET remarks = 'seen' WHERE borehole = 'B3'")
    assert Store.open(site).rows("borehole", ["depth_m"])[1] == (26,)
    assert Store.open(site).rows("criterion") == []


def test_an_upgraded_site_runs(kept, geoprofile, yard, undrawn):
    """The run after a migration computes every layer, with tables that the old file lacked."""
    path = kept("site_layout_1_early")
    geoprofile("migrate", path)
    shutil.move(path, yard / "site.gpkg")
    answer = geoprofile("run", yard, "--verbose")
    assert answer.returncode == 0, answer.stderr
    computed = next(x for x in answer.stderr.splitlines() if x.startswith("computed:"))
    assert "conductivity" in computed
    assert "model" in computed
    assert inspect(yard / "site.gpkg") == []
    assert "Nothing has changed" in geoprofile("run", yard).stderr


def test_what_the_user_added_survives(kept, geoprofile, edit, query):
    """A column, an index, a view, a layer and a style of the user's own."""
    path = kept("site_layout_1")
    edit(
        path,
        "ALTER TABLE borehole ADD COLUMN seen_by TEXT",
        "UPDATE borehole SET seen_by = 'somebody'",
        "CREATE INDEX mine ON borehole (seen_by)",
        "CREATE VIEW deep AS SELECT * FROM borehole WHERE depth_m > 10",
        "CREATE TABLE my_notes (fid INTEGER PRIMARY KEY, note TEXT)",
        "INSERT INTO my_notes (note) VALUES ('gate locked')",
        "INSERT INTO layer_styles (f_table_name, f_geometry_column, styleName, styleQML, "
        "useAsDefault, owner) VALUES ('borehole', 'geom', 'mine', '<qgis/>', 1, 'me')",
    )
    answer = geoprofile("migrate", path)
    assert answer.returncode == 0, answer.stderr
    assert query(path, "SELECT DISTINCT seen_by FROM borehole") == [("somebody",)]
    assert query(path, "SELECT count(*) FROM deep") == [(3,)]
    assert query(path, "SELECT note FROM my_notes") == [("gate locked",)]
    assert query(path, "SELECT tbl_name FROM sqlite_master WHERE name = 'mine'") == [("borehole",)]
    assert query(
        path, "SELECT owner FROM layer_styles WHERE f_table_name = 'borehole' AND useAsDefault"
    ) == [("me",)]
    assert [f for f in inspect(path) if f.severity == "error"] == []


def test_a_row_that_the_layout_forbids_stops_the_migration(kept, geoprofile, edit):
    """Nothing is changed; the table is named."""
    path = kept("site_layout_1_early")
    edit(
        path,
        "PRAGMA ignore_check_constraints=ON",
        "UPDATE test SET kind = 'cork' WHERE fid = 1",
    )
    before = path.read_bytes()
    answer = geoprofile("migrate", path)
    assert answer.returncode == 5
    assert "table test" in answer.stderr
    assert path.read_bytes() == before


def test_a_newer_file_is_refused(ran_once, geoprofile, tmp_path, edit):
    """By every command, with exit code 5; migrate is no way back."""
    path = tmp_path / "site.gpkg"
    shutil.copy(ran_once / "site.gpkg", path)
    edit(path, f"UPDATE site SET value = '{SCHEMA_VERSION + 1}' WHERE name = 'schema_version'")
    before = path.read_bytes()
    for words in (("show", path, "borehole"), ("migrate", path), ("map", path)):
        answer = geoprofile(*words)
        assert answer.returncode == 5
        assert "Update geoprofile" in answer.stderr
    assert path.read_bytes() == before


def test_a_kill_leaves_the_old_or_the_new_layout(kept, query, tmp_path):
    """Killed at any point, the file is whole: all of the old layout, or all of the new."""
    code = (
        "import sys\n"
        "from geoprofile.store import migrate\n"
        "import geoprofile.intake.row_fingerprints, geoprofile.store.reading, geopandas, fiona\n"
        "print('ready', flush=True)\n"
        "sys.stdin.readline()\n"
        "migrate(sys.argv[1])\n"
        "print('done', flush=True)\n"
    )
    path = kept("site_layout_1_early")
    before = rows_of(query, path)
    content, found = path.read_bytes(), set()
    for wait_s in (0.1, 0.25, 0.4, 0.8):
        path.write_bytes(content)
        child = subprocess.Popen(
            [sys.executable, "-c", code, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        child.stdout.readline()
        child.stdin.write(b"\n")
        child.stdin.flush()
        time.sleep(wait_s)
        child.kill()
        child.communicate()
        ((version,),) = query(path, "SELECT value FROM site WHERE name = 'schema_version'")
        found.add(version)
        after = rows_of(query, path)
        now = under_present_names(after)
        for name, columns in under_present_names(before).items():
            assert columns.items() <= now[name].items()
        if version == str(SCHEMA_VERSION):
            assert inspect(path) == []
        else:
            assert after == before
        for copy in tmp_path.glob("site.before-migration-*.gpkg"):
            assert query(copy, "PRAGMA integrity_check") == [("ok",)]
    assert found <= {"1", str(SCHEMA_VERSION)}
