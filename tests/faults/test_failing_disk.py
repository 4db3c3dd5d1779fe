"""The disk fails, is full, or is busy at the 1st, 2nd, 3rd ... statement of every command.

By default some statements of each are tried; `pytest tests/faults --kills 9999` tries them all.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
from pathlib import Path

import pytest
from faults_failing import Failing, fail_at
from faults_states import corrupt, digests, emptied, more_tables, nothing

from geoprofile import app
from geoprofile.errors import GeoprofileError
from geoprofile.store import inspect

CODES = {
    "input/output": sqlite3.SQLITE_IOERR,
    "full": sqlite3.SQLITE_FULL,
    "busy": sqlite3.SQLITE_BUSY,
}


def create(folder: Path) -> None:
    """A new site file."""
    app.create(folder / "new.gpkg", crs="EPSG:32632")


def create_over(folder: Path) -> None:
    """An empty site file in the place of another."""
    app.create(folder / "site.gpkg", crs="EPSG:32632", overwrite=True)


def load(folder: Path) -> None:
    """Changed tables."""
    app.load(folder / "site.gpkg", [folder])


def derive(folder: Path) -> None:
    """One layer, as all commands do that compute."""
    wanted = {"map_band.elevations_m": "[80]"}
    app.derive(folder / "site.gpkg", ("map_band",), command="map", overrides=wanted)


def repair(folder: Path) -> None:
    """What is damaged is built anew."""
    app.check(folder / "site.gpkg", repair=True)


def restore(folder: Path) -> None:
    """The state of a safety copy."""
    app.restore(folder / "site.gpkg", folder / "kept.gpkg")


COMMANDS = {
    "create": (create, nothing, "new.gpkg"),
    "create over": (create_over, nothing, "site.gpkg"),
    "load": (load, more_tables, "site.gpkg"),
    "derive": (derive, nothing, "site.gpkg"),
    "restore": (restore, emptied, "site.gpkg"),
    "repair": (repair, corrupt, "site.gpkg"),
}


@pytest.mark.parametrize("kind", CODES)
@pytest.mark.parametrize("name", COMMANDS)
def test_a_failure_at_any_statement_is_told_and_changes_nothing(
    computed, tmp_path, monkeypatch, kills, name, kind
):
    """An error of ours and the file as before, or no error and the file as meant."""
    work, prepare, target = COMMANDS[name]

    def fresh() -> Path:
        folder = tmp_path / "site"
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(computed, folder, ignore=shutil.ignore_patterns("out"))
        prepare(folder)
        return folder

    folder = fresh()
    old = digests(folder / target)
    fail_at(monkeypatch, 0, 0)
    work(folder)
    total, new = Failing.count, digests(folder / target)
    assert old != new
    chance = random.Random(f"{name} {kind}")
    for number in chance.sample(range(1, total + 1), min(kills, total)):
        folder = fresh()
        fail_at(monkeypatch, number, CODES[kind])
        expected = old
        with contextlib.suppress(GeoprofileError):
            work(folder)
            expected = new
        fail_at(monkeypatch, 0, 0)
        assert digests(folder / target) == expected, number
        assert not [p.name for p in folder.iterdir() if p.name.startswith(".")]
        if expected and expected == new:
            assert [f for f in inspect(folder / target) if f.severity == "error"] == []
