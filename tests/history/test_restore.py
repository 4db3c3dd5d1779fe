"""Safety copies are listed and put back: whole or not at all, and nothing is ever lost."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time

import pytest

from geoprofile.store import Store, inspect, restore, safety_copy
from geoprofile.store import restoring as restoring_module


@pytest.fixture
def site(ran_once, tmp_path):
    """A site file that was run, in a folder of its own."""
    path = tmp_path / "site.gpkg"
    shutil.copy(ran_once / "site.gpkg", path)
    return path


def depth(path):
    """Depth of the first hole [m]."""
    return Store.open(path).rows("borehole", ["depth_m"])[0][0]


def test_the_list_says_when_for_what_and_what_differs(site, geoprofile, edit):
    """The latest copy first, counts and changed values by table."""
    first = safety_copy(site, "before-repair")
    edit(site, "UPDATE borehole SET depth_m = 30 WHERE borehole = 'B1'")
    second = safety_copy(site)
    edit(site, "DELETE FROM reading WHERE test = 'TB1-1'")
    listed = json.loads(geoprofile("restore", site, "--format", "json").stdout)
    assert [r["copy"] for r in listed] == [second.name, first.name]
    assert [r["taken_for"] for r in listed] == ["copy", "before-repair"]
    assert listed[0]["differs"] == "reading 189 rows, now 168"
    assert listed[1]["differs"] == "borehole other values; reading 189 rows, now 168"
    assert listed[0]["taken_at"].startswith("20")


def test_no_copies_is_an_empty_list(site, geoprofile):
    """Other GeoPackages in the folder are no copies of this one."""
    shutil.copy(site, site.with_name("other.copy-20310504T093000000.gpkg"))
    shutil.copy(site, site.with_name("site two.gpkg"))
    answer = geoprofile("restore", site, "--format", "csv")
    assert answer.stdout.splitlines() == ["copy,taken_at,taken_for,differs"]


def test_a_copy_comes_back_and_the_present_state_is_kept(site, geoprofile, edit):
    """Values are those of the copy; what was there before can be had back the same way."""
    copy = safety_copy(site)
    edit(site, "UPDATE borehole SET depth_m = 30 WHERE borehole = 'B1'")
    answer = geoprofile("restore", site, copy.name)
    assert answer.returncode == 0, answer.stderr
    assert depth(site) == 25
    assert inspect(site) == []
    (kept,) = site.parent.glob("site.before-restore-*.gpkg")
    assert str(kept) in answer.stdout
    assert geoprofile("restore", site, kept).returncode == 0
    assert depth(site) == 30
    assert copy.exists()
    assert len(list(site.parent.glob("*.gpkg"))) == 4


def test_an_open_reader_goes_on_with_the_restored_rows(site, edit):
    """The file is written in place: a program that has it open sees the rows of the copy."""
    copy = safety_copy(site)
    edit(site, "UPDATE borehole SET depth_m = 30 WHERE borehole = 'B1'")
    reader = sqlite3.connect(site)
    assert reader.execute("SELECT depth_m FROM borehole").fetchone() == (30,)
    restore(copy, site)
    assert reader.execute("SELECT depth_m FROM borehole").fetchone() == (25,)
    reader.close()


def test_a_damaged_copy_is_refused(site, geoprofile):
    """Cut off, overwritten in the middle, or of another kind: the file stays as it is."""
    good = safety_copy(site).read_bytes()
    before = site.read_bytes()
    middle = len(good) // 2 // 4096 * 4096
    for content in (good[:9000], good[:4096] + b"x" * middle + good[4096 + middle :], b"no" * 99):
        bad = site.with_name("bad.gpkg")
        bad.write_bytes(content)
        answer = geoprofile("restore", site, bad)
        assert answer.returncode == 5, answer.stderr
        assert site.read_bytes() == before
    assert not list(site.parent.glob("*.before-restore*"))


def test_a_copy_that_is_not_there_is_told(site, geoprofile):
    """With the names that there are."""
    copy = safety_copy(site)
    answer = geoprofile("restore", site, "site.copy-1.gpkg")
    assert answer.returncode == 2
    assert copy.name in answer.stderr


@pytest.mark.parametrize("damage", ["head", "cut", "gone", "empty"])
def test_a_damaged_or_lost_site_file_comes_back(site, geoprofile, damage):
    """The damaged file is kept as it is, byte by byte where it cannot be read."""
    copy = safety_copy(site)
    if damage == "head":
        content = b"\0" * 200 + site.read_bytes()[200:]
    elif damage == "cut":
        content = site.read_bytes()[: 4096 * 20]
    else:
        content = b""
    site.write_bytes(content)
    if damage == "gone":
        site.unlink()
    assert copy.name in geoprofile("restore", site).stdout
    answer = geoprofile("restore", site, copy)
    assert answer.returncode == 0, answer.stderr
    assert inspect(site) == []
    assert depth(site) == 25
    if damage in ("head", "cut"):
        (kept,) = set(site.parent.glob("site.*.gpkg")) - {copy}
        assert kept.stat().st_size == len(content)


def test_a_file_that_another_program_writes_is_left_alone(site, geoprofile, monkeypatch):
    """Exit code 3 after a while; nothing is changed."""
    copy = safety_copy(site)
    monkeypatch.setattr("geoprofile.store.connection.BUSY_SECONDS", 0.1)
    other = sqlite3.connect(site, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    other.execute("UPDATE run SET command = 'waits'")
    answer = geoprofile("restore", site, copy)
    assert answer.returncode == 3, answer.stderr
    other.execute("COMMIT")
    other.close()
    assert set(Store.open(site).rows("run", ["command"])) == {("waits",)}


def test_waiting_for_another_writer_ends(site, monkeypatch):
    """SQLite's backup alone would wait for ever for a program that took the lock meanwhile."""
    monkeypatch.setattr(restoring_module, "BUSY_SECONDS", 0.0)
    look = restoring_module._patience(site)
    look(sqlite3.SQLITE_OK, 0, 0)
    time.sleep(0.01)
    with pytest.raises(restoring_module.BusyError):
        look(sqlite3.SQLITE_BUSY, 0, 0)


def test_an_older_copy_can_be_put_back_and_says_to_migrate(kept, geoprofile, tmp_path):
    """A migration can be undone; the next command says what to do."""
    path = kept("site_layout_1_early")
    geoprofile("migrate", path)
    (copy,) = tmp_path.glob("site.before-migration-*.gpkg")
    assert geoprofile("restore", path, copy).returncode == 0
    assert "geoprofile migrate" in geoprofile("show", path, "borehole").stderr


def test_a_kill_leaves_the_old_or_the_restored_state(site, edit):
    """Killed at any point, the file is as before or as the copy, and the copy is untouched."""
    copy = safety_copy(site)
    edit(site, "UPDATE borehole SET depth_m = 30")
    kept = copy.read_bytes()
    code = (
        "import sys, os, threading\n"
        "from pathlib import Path\n"
        "from geoprofile.store import restoring\n"
        "print('ready', flush=True)\n"
        "sys.stdin.readline()\n"
        "while True:\n"
        "    restoring._write_in_place(Path(sys.argv[1]), Path(sys.argv[2]))\n"
        "    restoring._write_in_place(Path(sys.argv[3]), Path(sys.argv[2]))\n"
    )
    other = safety_copy(site, "other")
    for wait in (0.001, 0.006, 0.021, 0.06):
        child = subprocess.Popen(
            [sys.executable, "-c", code, copy, site, other],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        child.stdout.readline()
        child.stdin.write(b"\n")
        child.stdin.flush()
        time.sleep(wait)
        os.kill(child.pid, signal.SIGKILL)
        child.communicate()
        assert depth(site) in (25, 30)
        assert inspect(site) == []
    assert copy.read_bytes() == kept
