"""Files that may not be written, and other processes that hold the site file meanwhile."""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from faults_states import digests

from geoprofile.errors import BusyError, DiskError
from geoprofile.store import Changes, Store, inspect, repair, safety_copy
from geoprofile.store.opening import WAL_HELD

CAPABILITY_VERSION = 0x20080522  # linux/capability.h, version 3
DAC_OVERRIDE, DAC_READ_SEARCH = 1 << 1, 1 << 2


@contextlib.contextmanager
def ordinary_rights() -> Iterator[None]:
    """File permissions hold inside, for the superuser too: he lays down what overrides them."""
    if sys.platform != "linux" or os.geteuid() != 0:
        yield
        return
    libc = ctypes.CDLL(None, use_errno=True)
    header = (ctypes.c_uint32 * 2)(CAPABILITY_VERSION, 0)
    rights = (ctypes.c_uint32 * 6)()  # effective, permitted, inheritable; twice
    assert libc.capget(header, rights) == 0
    before = rights[0]
    rights[0] &= ~(DAC_OVERRIDE | DAC_READ_SEARCH)
    assert libc.capset(header, rights) == 0
    try:
        yield
    finally:
        rights[0] = before
        assert libc.capset(header, rights) == 0


@contextlib.contextmanager
def closed(path: Path, mode: int) -> Iterator[None]:
    """A file or folder that may not be written, for as long."""
    before = path.stat().st_mode
    path.chmod(mode)
    try:
        with ordinary_rights():
            yield
    finally:
        path.chmod(before)


HOLDER = """
import sqlite3, sys
c = sqlite3.connect(sys.argv[1], isolation_level=None)
for statement in sys.argv[2:]:
    c.execute(statement).fetchall()
print("held", flush=True)
sys.stdin.read()
"""


@contextlib.contextmanager
def other_process(path: Path, *statements: str) -> Iterator[subprocess.Popen]:
    """Another process in the midst of something; ended by `terminate` or at the end."""
    words = [sys.executable, "-c", HOLDER, str(path), *statements]
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout.readline() == "held\n"
        yield process
        process.stdin.close()


def new(path: Path, *, overwrite: bool = False) -> Store:
    """An empty site file."""
    return Store.create(path, name="n", crs="EPSG:32631", vertical_datum="", overwrite=overwrite)


@pytest.fixture
def changes(make) -> Changes:
    """One layer to be stored."""
    return Changes("x", derived={"borehole_path": make["paths"]("B1", "B2")})


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits ten seconds for a lock here."""
    monkeypatch.setattr("geoprofile.store.connection.BUSY_SECONDS", 0.2)


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such permissions")
@pytest.mark.parametrize("where", ["file", "folder"])
def test_what_may_not_be_written_is_read_and_told(filled, changes, where):
    """Reading and checking work; writing is refused and changes nothing."""
    path, mode = (filled.path, 0o444) if where == "file" else (filled.path.parent, 0o555)
    before = filled.path.read_bytes()
    with closed(path, mode):
        assert len(Store.open(filled.path).read().boreholes) == 2
        assert inspect(filled.path) == []
        with pytest.raises(DiskError, match="permissions"):
            filled.write(changes)
        if where == "folder":
            for work in (repair, safety_copy):
                with pytest.raises(DiskError):
                    work(filled.path)
            with pytest.raises(DiskError):
                new(filled.path.with_name("n.gpkg"))
    assert filled.path.read_bytes() == before
    assert list(filled.path.parent.iterdir()) == [filled.path]


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such permissions")
def test_a_file_that_may_not_be_read_is_told(filled):
    """Neither a traceback nor the advice to repair it."""
    with closed(filled.path, 0o000):
        (finding,) = inspect(filled.path)
        assert finding.code == "file"
        with pytest.raises(DiskError):
            Store.open(filled.path)


def test_a_folder_in_the_place_of_the_new_file_is_told(tmp_path):
    """It is not replaced, and nothing is left beside it."""
    (tmp_path / "site.gpkg").mkdir()
    with pytest.raises(DiskError):
        new(tmp_path / "site.gpkg", overwrite=True)
    assert list(tmp_path.iterdir()) == [tmp_path / "site.gpkg"]


@pytest.mark.parametrize("lock", ["IMMEDIATE", "EXCLUSIVE"])
def test_a_lock_of_another_process_is_told(filled, changes, lock):
    """Nothing is written, not even by a repair; afterwards all is as usual."""
    before = digests(filled.path)
    with other_process(filled.path, f"BEGIN {lock}"):
        for work in (lambda: filled.write(changes), lambda: repair(filled.path)):
            with pytest.raises(BusyError, match="another program"):
                work()
    for copy in filled.path.parent.glob("site.before-repair*"):
        assert inspect(copy) == []  # a repair takes its copy before it asks for the lock
    assert digests(filled.path) == before
    assert filled.write(changes).run == 2


def test_a_process_that_dies_with_the_lock_holds_nobody_up(filled, changes):
    """Its half-done edit is undone, and the write goes through at once."""
    half = ("PRAGMA cache_size=1", "BEGIN", "DELETE FROM reading", "DELETE FROM test")
    with other_process(filled.path, *half) as holder:
        holder.kill()
        holder.wait()
    Store.open(filled.path).write(changes)
    assert len(filled.rows("reading")) == 3
    assert inspect(filled.path) == []


def test_an_edit_session_of_another_process_loses_nothing(filled, changes):
    """It keeps the file in WAL mode: our layer and its later edit are both there at the end."""
    statements = ("PRAGMA journal_mode=WAL", "UPDATE test SET remarks = 'first'")
    with other_process(filled.path, *statements) as holder:
        assert WAL_HELD in Store.open(filled.path).remarks
        assert WAL_HELD in filled.write(changes).remarks
        holder.kill()  # the program crashes with the file open
        holder.wait()
    store = Store.open(filled.path)
    assert store.rows("test", ["remarks"]) == [("first",)] * 2
    assert len(store.rows("borehole_path")) == 2
    assert inspect(filled.path) == []


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such permissions")
def test_edits_in_a_log_that_nobody_may_open_are_not_passed_over(filled):
    """Where the log beside the file cannot be used, reading is refused: it would lack rows."""
    statements = ("PRAGMA journal_mode=WAL", "UPDATE test SET remarks = 'saved'")
    with other_process(filled.path, *statements) as holder:
        holder.kill()
        holder.wait()
    filled.path.with_name("site.gpkg-shm").unlink()
    with closed(filled.path.parent, 0o555), pytest.raises(DiskError):
        Store.open(filled.path)
    assert Store.open(filled.path).rows("test", ["remarks"]) == [("saved",)] * 2


@pytest.mark.skipif(sys.platform == "win32", reason="the commands are forked")
def test_two_commands_at_once_take_turns(computed, tmp_path):
    """Both end well one after the other, or the second says that the file is busy."""
    folder = tmp_path / "site"
    shutil.copytree(computed, folder)
    words = [sys.executable, "-m", "geoprofile"]
    jobs = [
        ["map", "site.gpkg", "--set", "map_band.elevations_m=[85]"],
        ["discharge", "site.gpkg", "--set", "discharge.seed=8"],
    ]
    running = [
        subprocess.Popen([*words, *job], cwd=folder, stdout=subprocess.DEVNULL) for job in jobs
    ]
    codes = [process.wait(120) for process in running]
    assert 0 in codes
    assert set(codes) <= {0, BusyError.exit_code}
    commands = [row[0] for row in Store.open(folder / "site.gpkg").rows("run", ["command"])]
    assert commands.count("map") + commands.count("discharge") == codes.count(0)
    assert inspect(folder / "site.gpkg") == []
