"""Kills, full disks, locks and other programs: all of a write is stored, or none of it."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace

import pytest
from faults_failing import Failing, fail_at

from geoprofile.errors import BusyError, DamagedError, DiskError, GeoprofileError
from geoprofile.store import Changes, Store, inspect
from geoprofile.store.connection import register_functions
from geoprofile.store.inspection import UNDO
from geoprofile.store.opening import MEANWHILE, REPAIRED, WAL_HELD, in_wal_mode

WRITER = """
import sys
import geopandas as gpd, pandas as pd, shapely
from geoprofile.store import Changes, Store
store = Store.open(sys.argv[1])
lines = [shapely.LineString([(5e5 + i, 5.7e6, 2), (5e5 + i, 5.7e6, -28)]) for i in range(3000)]
points = [shapely.Point(5e5 + i, 5.7e6, 0) for i in range(3000)]
print("ready", flush=True)
for turn in range(1, 1000):
    name = f"turn {turn}"
    paths = gpd.GeoDataFrame({"borehole": [name] * 3000}, geometry=lines)
    heads = gpd.GeoDataFrame({"borehole": [name] * 3000}, geometry=points)
    findings = pd.DataFrame({"what": [name] * 3000})
    derived = {"borehole_path": paths, "head": heads, "finding": findings}
    store.write(Changes(name, derived=derived))
"""


def kill_a_writer(store, rng):
    """Start a writer, kill it at a random moment, and say what the file holds afterwards."""
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(store.path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout.readline() == "ready\n"
        time.sleep(rng.uniform(0.0, 0.8))
        os.kill(writer.pid, signal.SIGKILL)
    reopened = Store.open(store.path)
    kinds = [
        set(reopened.rows("borehole_path", ["borehole"])),
        set(reopened.rows("head", ["borehole"])),
        set(reopened.rows("finding", ["what"])),
    ]
    commands = [row[0] for row in reopened.rows("run", ["command"])]
    return reopened, kinds, commands


def check_whole(store, rng):
    reopened, kinds, commands = kill_a_writer(store, rng)
    assert kinds[0] == kinds[1] == kinds[2]
    assert kinds[0] == ({(commands[-1],)} if commands else set())
    assert inspect(store.path) == []
    assert list(store.path.parent.iterdir()) == [store.path]
    return reopened


@pytest.mark.parametrize("seed", [1, 2])
def test_a_killed_write_leaves_all_or_nothing(store, seed):
    """Three layers are of one run, the list of runs agrees, the file is sound, nothing is left."""
    check_whole(store, random.Random(seed))


@pytest.mark.bench
def test_forty_killed_writes_leave_all_or_nothing(store):
    """The same forty times on one file, and whole writes as well as undone ones among them."""
    rng = random.Random(40)
    undone = sum(REPAIRED in check_whole(store, rng).remarks for _ in range(40))
    print(f"{undone} of 40 kills hit a write in its commit")


ANSWERS = {
    sqlite3.SQLITE_IOERR: DiskError,
    sqlite3.SQLITE_FULL: DiskError,
    sqlite3.SQLITE_READONLY: DiskError,
    sqlite3.SQLITE_BUSY: BusyError,
    sqlite3.SQLITE_CORRUPT: DamagedError,
}


@pytest.mark.parametrize("code", list(ANSWERS))
def test_a_failure_at_any_statement_changes_nothing(filled, make, monkeypatch, code):
    """Wherever in the write it fails, the error is of its kind and the file stays as it was."""
    changes = Changes(
        "x", upserts=make["field_tables"](), derived={"borehole_path": make["paths"]("B2")}
    )
    before = filled.path.read_bytes()
    rng, total = random.Random(code), count_statements(filled, changes, monkeypatch)
    assert total > 20
    for number in [1, total, *(rng.randrange(1, total) for _ in range(6))]:
        with monkeypatch.context() as patch:
            fail_at(patch, number, code)
            with pytest.raises(ANSWERS[code]):
                filled.write(changes)
        assert filled.path.read_bytes() == before
        assert not filled.path.with_name("site.gpkg-journal").exists()


def count_statements(store, changes, monkeypatch):
    """How many statements the write takes, counted on a copy."""
    copy = Store(store.path.with_name("count.gpkg"))
    shutil.copy(store.path, copy.path)
    with monkeypatch.context() as patch:
        fail_at(patch, 0, 0)
        copy.write(changes)
    copy.path.unlink()
    return Failing.count


def test_a_full_disk_changes_nothing(filled, make, monkeypatch):
    """The file may not grow: the error says so, and nothing is changed."""
    connect = sqlite3.connect

    def small(*args, **kwargs):
        connection = connect(*args, **kwargs)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count={pages + 2}")
        return connection

    before = filled.path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(sqlite3, "connect", small)
        many = make["paths"](*[f"B{i}" for i in range(500)])
        with pytest.raises(DiskError, match="no room"):
            filled.write(Changes("x", derived={"borehole_path": many}))
    assert filled.path.read_bytes() == before
    assert inspect(filled.path) == []


@contextlib.contextmanager
def other_program(store, *statements):
    """Another process's connection in the midst of something."""
    connection = sqlite3.connect(store.path, isolation_level=None)
    register_functions(connection)
    for statement in statements:
        connection.execute(statement)
    try:
        yield connection
    finally:
        connection.close()


def test_a_locked_file_is_told_and_nothing_changes(filled, make, monkeypatch):
    """While another program writes, ours waits, then says so; reading goes on meanwhile."""
    monkeypatch.setattr("geoprofile.store.connection.BUSY_SECONDS", 0.2)
    changes = Changes("x", derived={"borehole_path": make["paths"]("B2")})
    before = filled.fingerprint("borehole_path")
    with other_program(filled, "BEGIN IMMEDIATE", "UPDATE borehole SET remarks = 'theirs'"):
        with pytest.raises(BusyError, match="another program"):
            filled.write(changes)
        assert filled.fingerprint("borehole_path") == before
    assert filled.write(changes).run == 2


def test_the_wait_for_a_lock_is_ten_seconds():
    """Long enough for an ordinary save of a GIS, short enough to be told."""
    from geoprofile.store.connection import BUSY_SECONDS

    assert BUSY_SECONDS == 10.0


def test_an_edit_session_of_a_gis_goes_on_beside_a_write(filled, make):
    """In WAL mode both the user's saved edit and our layer are there afterwards."""
    with other_program(
        filled, "PRAGMA journal_mode=WAL", "UPDATE borehole SET remarks = 'edited'"
    ) as gis:
        gis.execute("SELECT * FROM borehole").fetchall()
        report = filled.write(Changes("x", derived={"borehole_path": make["paths"]("B2")}))
        assert WAL_HELD in report.remarks
        gis.execute("UPDATE borehole SET depth_m = 31")
    assert filled.rows("borehole", ["remarks", "depth_m"]) == [("edited", 31.0)] * 2
    assert filled.rows("borehole_path", ["borehole"]) == [("B2",)]
    Store.open(filled.path)
    assert not in_wal_mode(filled.path)
    assert inspect(filled.path) == []


def test_a_save_of_the_gis_right_after_our_write_is_no_damage(filled, make, edit, monkeypatch):
    """What was read back differs because another program wrote: a remark, not an alarm."""
    from geoprofile.store.reader import verify

    def saved_meanwhile(path, facts):
        edit(filled, "DELETE FROM borehole_path WHERE fid = 1")
        verify(path, facts)

    monkeypatch.setattr("geoprofile.store.store.verify", saved_meanwhile)
    report = filled.write(Changes("x", derived={"borehole_path": make["paths"]("B2", "B3")}))
    assert report.remarks == (MEANWHILE,)


def test_a_write_that_is_read_back_wrongly_is_an_alarm(filled, make, monkeypatch):
    """Nobody else wrote, and the reader sees another number of rows."""
    from geoprofile.store.reader import verify

    monkeypatch.setattr(
        "geoprofile.store.store.verify",
        lambda path, facts: verify(path, [replace(f, rows=f.rows + 1) for f in facts]),
    )
    with pytest.raises(DamagedError, match="read back"):
        filled.write(Changes("x", derived={"borehole_path": make["paths"]("B2")}))


def test_a_link_to_the_file_knows_its_journal(filled, tmp_path):
    """SQLite keeps the journal beside the file itself; so do we look there."""
    from geoprofile.store.connection import has_sidecar

    link = tmp_path / "elsewhere" / "link.gpkg"
    link.parent.mkdir()
    link.symlink_to(filled.path)
    (tmp_path / "site.gpkg-journal").write_bytes(bytes(512))
    assert has_sidecar(link, "-journal")
    assert REPAIRED in Store.open(link).remarks
    assert not has_sidecar(filled.path, "-journal")


def test_edits_left_in_a_wal_by_a_killed_gis_are_kept(filled, tmp_path):
    """The rows beside the file are brought into it, and the file stands alone again."""
    code = (
        "import sqlite3, sys, os; c = sqlite3.connect(sys.argv[1], isolation_level=None); "
        "c.execute('PRAGMA journal_mode=WAL'); "
        "c.execute(\"UPDATE test SET remarks = 'saved'\"); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", code, str(filled.path)], check=False)
    assert (tmp_path / "site.gpkg-wal").exists()
    assert Store.open(filled.path).rows("test", ["remarks"]) == [("saved",)] * 2
    assert not (tmp_path / "site.gpkg-wal").exists()


def test_what_an_interrupted_creation_left_does_not_corrupt_the_next(tmp_path):
    """Half a file and its journal that an earlier version left: no name of them is used again."""
    for suffix in ("", "-journal"):
        (tmp_path / f".s.gpkg.new{suffix}").write_bytes(b"\xd9\xd5\x05\xf9 \xa1c\xd7" + bytes(600))
    path = tmp_path / "s.gpkg"
    Store.create(path, name="s", crs="EPSG:32631", vertical_datum="d")
    assert path in list(tmp_path.iterdir())
    assert inspect(path) == []


def test_a_journal_left_by_a_killed_writer_is_undone_and_told(filled, tmp_path):
    """Pages already overwritten are put back from the journal; looking alone changes nothing."""
    code = (
        "import sqlite3, sys, os; c = sqlite3.connect(sys.argv[1], isolation_level=None); "
        "c.execute('PRAGMA cache_size=1'); c.execute('PRAGMA cache_spill=1'); c.execute('BEGIN'); "
        "c.execute('CREATE TABLE junk(a)'); "
        "c.executemany('INSERT INTO junk VALUES (?)', [(b'x' * 3000,)] * 500); "
        "c.execute('DELETE FROM reading'); os._exit(9)"
    )
    before = filled.fingerprint("reading")
    subprocess.run([sys.executable, "-c", code, str(filled.path)], check=False)
    left = (tmp_path / "site.gpkg-journal").read_bytes()
    assert any(UNDO in f.what_to_do for f in inspect(filled.path))
    assert (tmp_path / "site.gpkg-journal").read_bytes() == left
    reopened = Store.open(filled.path)
    assert reopened.remarks == (REPAIRED,)
    assert reopened.fingerprint("reading") == before
    assert inspect(filled.path) == []


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TRIGGER spy AFTER INSERT ON run BEGIN DELETE FROM borehole; END",
        "CREATE TRIGGER rtree_borehole_path_geom_insert2 AFTER INSERT ON borehole_path BEGIN "
        "DELETE FROM borehole; END",
        'CREATE TRIGGER "trigger_insert_feature_count_x" AFTER INSERT ON run BEGIN '
        "UPDATE gpkg_ogr_contents SET feature_count = feature_count + 1; DELETE FROM test; END",
    ],
)
def test_a_trigger_of_unknown_making_stops_the_write(filled, make, edit, statement):
    """It would run with our rights; nothing is written and nothing of it has run."""
    edit(filled, statement)
    with pytest.raises(DamagedError, match="did not make"):
        filled.write(Changes("x", derived={"borehole_path": make["paths"]("B2")}))
    assert len(filled.rows("borehole")) == 2


def test_a_view_in_the_place_of_a_table_is_not_read(filled, edit):
    """Tables of ours are read only if they are tables."""
    edit(
        filled,
        "ALTER TABLE criterion RENAME TO old",
        "CREATE VIEW criterion AS SELECT load_extension('/tmp/x') AS analyte",
    )
    assert "criterion" not in filled.tables()
    assert filled.read().table("criterion").empty
    with pytest.raises(GeoprofileError):
        filled.write(Changes("x"))


def test_a_newer_layout_is_not_touched(filled, edit):
    """A file of a later geoprofile is refused with the advice to update."""
    edit(filled, "UPDATE site SET value = '99' WHERE name = 'schema_version'")
    with pytest.raises(DamagedError, match="Update geoprofile"):
        Store.open(filled.path)


def test_another_geopackage_is_not_taken_for_a_site(filled, edit):
    """A GeoPackage without our tables is refused with the way to go."""
    edit(filled, "DROP TABLE site")
    with pytest.raises(DamagedError, match="geoprofile create"):
        Store.open(filled.path)


def test_creation_that_fails_leaves_nothing(tmp_path, monkeypatch):
    """No half-made file, neither in its place nor beside it."""
    fail_at(monkeypatch, 30, sqlite3.SQLITE_FULL)
    with pytest.raises(DiskError):
        Store.create(tmp_path / "s.gpkg", name="s", crs="EPSG:32631", vertical_datum="d")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.bench
def test_writers_take_turns(store):
    """Four processes that write at once all get through: twenty runs, in one line, none lost."""
    code = WRITER.replace("range(1, 1000)", "range(1, 6)").replace("3000", "300")
    writers = [
        subprocess.Popen([sys.executable, "-c", code, str(store.path)], stdout=subprocess.DEVNULL)
        for _ in range(4)
    ]
    assert [writer.wait() for writer in writers] == [0] * 4
    assert [row[0] for row in store.rows("run", ["run"])] == list(range(1, 21))
    assert inspect(store.path) == []
