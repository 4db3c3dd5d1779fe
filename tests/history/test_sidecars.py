"""A -wal or -journal that a killed program left is never taken for part of another file."""

from __future__ import annotations

import shutil
import sys

import pytest
from other_hand import run_words

from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store import Store, inspect, safety_copy
from geoprofile.testing import mishaps

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="there is no fork"),
    pytest.mark.usefixtures("undrawn"),
]

SAVED = [("UPDATE borehole SET depth_m = 44, remarks = hex(randomblob(3000))", ())]


def kill_editor(path, kind):
    """A GIS that edits the file and is killed: it leaves a -wal or a -journal with content."""
    mishaps.kill_editor(path, SAVED, kind)
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


def test_a_journal_of_one_copy_is_not_taken_for_that_of_another(ran, geoprofile):
    """Copies are made alike: an editor of the one put in place is killed, and the other put there.

    The counters at their heads tell them apart, and where those agree the rest of the first page.
    """
    site = ran / "site.gpkg"
    one = safety_copy(site, "one")
    run_words([sys.executable, "-c", BIGGER, str(site)])
    other = safety_copy(site, "other")
    assert one.read_bytes()[24:28] != other.read_bytes()[24:28]
    for is_alike in (False, True):
        if is_alike:
            put(other, one.read_bytes()[24:28])
        shutil.copy(one, site)
        kill_editor(site, "journal")
        shutil.copy(other, site)
        answer = geoprofile("show", site, "borehole")
        assert answer.returncode == 0, answer.stderr
        assert "-journal.left-" in answer.stdout + answer.stderr
        assert [f for f in inspect(site) if f.severity == "error"] == []


def put(path, counter):
    """Write the change counter of a file, as if it had been made at another time."""
    with path.open("r+b") as file:
        for place in (24, 92):
            file.seek(place)
            file.write(counter)


def test_a_file_beside_the_wal_of_another_can_be_made_anew(ran, geoprofile):
    """`create --overwrite` moves it aside and says so; it waits for no GIS that is not there."""
    site = ran / "site.gpkg"
    older = safety_copy(site, "older")
    kill_editor(site, "wal")
    shutil.copy(older, site)
    answer = geoprofile("create", site, "--crs", "EPSG:32632", "--overwrite")
    assert answer.returncode == 0, answer.stderr
    (kept,) = [p for p in ran.iterdir() if "-wal." in p.name]
    assert kept.name in answer.stdout + answer.stderr
    assert inspect(site) == []
    assert Store.open(site).rows("borehole") == []


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


@pytest.mark.parametrize("kind", ["wal", "journal"])
@pytest.mark.parametrize(
    "words",
    ["check --repair", "migrate", "restore", "compare", "restore to another"],
)
def test_a_sidecar_of_another_file_is_mixed_in_by_no_command(ran, edit, geoprofile, kind, words):
    """It is moved aside and named, and every row is that of the copy that was put there."""
    site, later = ran / "site.gpkg", "UPDATE borehole SET remarks = 'later'"
    if words == "migrate":
        old = f"UPDATE site SET value = '{SCHEMA_VERSION - 1}' WHERE name = 'schema_version'"
        edit(site, old)
    older = safety_copy(site, "older")
    edit(site, later, later)
    kill_editor(site, kind)
    shutil.copy(older, ran / "by hand")
    (ran / "by hand").replace(site)
    (found,) = [f for f in inspect(site) if f.code == "stranger"]
    assert found.severity == "error"
    answer = geoprofile(
        *{
            "check --repair": ("check", site, "--repair"),
            "migrate": ("migrate", site),
            "restore": ("restore", site),
            "compare": ("compare", older, older, site),
            "restore to another": ("restore", site, older.name),
        }[words]
    )
    assert answer.returncode == 0, answer.stderr
    (kept,) = [p for p in ran.iterdir() if f"-{kind}." in p.name]
    assert answer.stderr.count(kept.name) == 1
    rows = Store.peek(site).rows("borehole", ["depth_m", "remarks"])
    assert rows == [(25, None)] * 3
    assert not any(f.code == "stranger" for f in inspect(site))


@pytest.mark.parametrize("command", ["show", "compare", "check"])
def test_an_interrupted_write_is_undone_and_told(ran, geoprofile, command):
    """Also by a command that only reads; `check` finds it and changes nothing."""
    site = ran / "site.gpkg"
    older = safety_copy(site, "older")
    kill_editor(site, "journal")
    words = {
        "show": ("show", site, "borehole"),
        "compare": ("compare", older, older, site),
        "check": ("check", site),
    }[command]
    answer = geoprofile(*words)
    assert answer.returncode == (5 if command == "check" else 0), answer.stderr
    said = answer.stdout + answer.stderr
    assert ("undoes it" if command == "check" else "An earlier write was interrupted") in said
    assert (site.with_name("site.gpkg-journal").exists()) == (command == "check")
