"""A -wal or -journal that a killed program left is never taken for part of another file."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys

import pytest
from other_hand import ROOT, run_words

from geoprofile.store import Store, inspect, safety_copy

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL"),
    pytest.mark.usefixtures("undrawn"),
]

KILLED = """
import sqlite3, sys, time
sys.path.insert(0, sys.argv[3])
from geoprofile.store.connection import register_functions
c = sqlite3.connect(sys.argv[1], isolation_level=None)
register_functions(c)
if sys.argv[2] == "wal":
    c.execute("PRAGMA journal_mode=WAL")
    c.execute("PRAGMA wal_autocheckpoint=0")
    c.execute("UPDATE borehole SET depth_m = 44, remarks = hex(randomblob(3000))")
else:
    c.execute("PRAGMA cache_size=1")
    c.execute("PRAGMA cache_spill=1")
    c.execute("BEGIN IMMEDIATE")
    c.execute("UPDATE borehole SET depth_m = 44, remarks = hex(randomblob(3000))")
    c.execute("UPDATE reading SET elapsed_s = elapsed_s + 1")
print("ready", flush=True)
time.sleep(60)
"""


def kill_editor(path, kind):
    """A GIS that edits the file and is killed: it leaves a -wal or a -journal with content."""
    words = [sys.executable, "-c", KILLED, str(path), kind, str(ROOT)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as editor:
        assert editor.stdout.readline() == "ready\n"
        os.kill(editor.pid, signal.SIGKILL)
    assert path.with_name(f"{path.name}-{kind}").stat().st_size > 0


@pytest.fixture
def ran(ran_once, tmp_path):
    """The folder of the small site after one run."""
    return shutil.copytree(ran_once, tmp_path / "ran")


@pytest.mark.parametrize("kind", ["wal", "journal"])
@pytest.mark.parametrize("command", ["create", "restore", "restore the same", "run"])
def test_a_sidecar_without_its_file_is_moved_aside_and_named(ran, kind, command, geoprofile):
    """The new file is sound and holds what it should, the sidecar is kept under a name told."""
    site = ran / "site.gpkg"
    if command == "restore":
        older = safety_copy(site, "older")
        with_rows = Store.open(site).rows("borehole", ["depth_m"])
        run_words([sys.executable, "-c", BIGGER, str(site)])
    elif command == "restore the same":
        older = safety_copy(site, "older")
        with_rows = Store.open(site).rows("borehole", ["depth_m"])
    kill_editor(site, kind)
    site.unlink()
    words = {
        "create": ("create", site, "--crs", "EPSG:32632"),
        "run": ("run", ran),
    }.get(command) or ("restore", site, older.name)
    answer = geoprofile(*words)
    assert answer.returncode == 0, answer.stderr
    (kept,) = [p for p in ran.iterdir() if f"-{kind}." in p.name]
    assert kept.stat().st_size > 0
    assert kept.name in answer.stdout + answer.stderr
    assert not site.with_name(f"{site.name}-{kind}").exists()
    assert inspect(site) == []
    rows = Store.open(site).rows("borehole", ["depth_m"])
    assert Store.open(site).remarks == ()
    if command.startswith("restore"):
        assert rows == with_rows
    else:
        assert all(depth == 25 for (depth,) in rows)


BIGGER = """
import sqlite3, sys
c = sqlite3.connect(sys.argv[1], isolation_level=None)
c.execute("CREATE TABLE own (t TEXT)")
c.executemany("INSERT INTO own VALUES (hex(randomblob(2000)))", [()] * 200)
"""


@pytest.mark.parametrize("kind", ["wal", "journal"])
def test_a_sidecar_of_another_file_is_not_taken_into_a_copy_put_there_by_hand(
    ran, kind, geoprofile
):
    """A safety copy is moved into the place by the file manager; the old sidecar lies beside it."""
    site = ran / "site.gpkg"
    older = safety_copy(site, "older")
    run_words([sys.executable, "-c", BIGGER, str(site)])
    kill_editor(site, kind)
    shutil.copy(older, site)
    answer = geoprofile("show", site, "borehole")
    assert answer.returncode == 0, answer.stderr
    assert inspect(site) == []
    assert Store.open(site).rows("borehole", ["depth_m"]) == [(25,)] * 3
    assert [p for p in ran.iterdir() if f"-{kind}." in p.name]


@pytest.mark.parametrize("kind", ["wal", "journal"])
def test_a_sidecar_of_the_file_itself_is_used(ran, kind, geoprofile):
    """What a killed GIS saved is there; what it had not saved is undone."""
    site = ran / "site.gpkg"
    kill_editor(site, kind)
    answer = geoprofile("show", site, "borehole")
    assert answer.returncode == 0, answer.stderr
    depth = 44 if kind == "wal" else 25
    assert Store.open(site).rows("borehole", ["depth_m"]) == [(depth,)] * 3
    assert inspect(site) == []
    assert not [p for p in ran.iterdir() if f"-{kind}" in p.name]
