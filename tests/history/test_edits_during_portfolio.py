"""What is saved while a portfolio runs its sites is computed and gathered the next time at last."""

from __future__ import annotations

import importlib
import sqlite3
from pathlib import Path

import pytest
import small_yard

from geoprofile import app

command = importlib.import_module("geoprofile.app.portfolio")  # the function has the same name

ONLY = ("site.toml", "boreholes.csv")  # boreholes alone are soon run


def run_here(name, folder, out):
    """A site run in this process, which gathers nothing."""
    app.run(Path(folder))
    return command.Answer(name)


@pytest.fixture
def sites(tmp_path, undrawn, monkeypatch):
    """One site of boreholes, which is run in this process."""
    folder = small_yard.write_yard(tmp_path / "sites" / "one")
    for path in folder.rglob("*"):
        if path.is_file() and path.name not in ONLY:
            path.unlink()
    monkeypatch.setattr(command, "run_alone", run_here)
    return folder.parent


def deepened(folder):
    """The first borehole 25 m deep becomes 35 m deep."""
    path = folder / "one" / "boreholes.csv"
    path.write_text(path.read_text().replace(",25,", ",35,", 1))


def lengths(folder):
    """The computed length of each borehole [m]."""
    with sqlite3.connect(folder / "one" / "site.gpkg") as connection:
        found = connection.execute("SELECT length_m FROM borehole_path ORDER BY borehole")
        return [length for (length,) in found]


on_request = pytest.mark.calibration


@pytest.mark.parametrize(
    ("moment", "is_before"),
    [
        ("run_alone", True),
        ("_gather", False),
        ("_write", True),
        pytest.param("run_alone", False, marks=on_request),
        pytest.param("_gather", True, marks=on_request),
        pytest.param("_write", False, marks=on_request),
    ],
)
def test_a_file_saved_meanwhile_is_computed_the_next_time(sites, monkeypatch, moment, is_before):
    """Whenever it is saved: nothing is taken for unchanged that was not read."""
    original = getattr(command, moment)

    def with_an_edit(*given):
        if is_before:
            deepened(sites)
        answer = original(*given)
        if not is_before:
            deepened(sites)
        return answer

    monkeypatch.setattr(command, moment, with_an_edit)
    app.portfolio(sites, workers=1)
    monkeypatch.setattr(command, moment, original)
    app.portfolio(sites, workers=1)
    assert lengths(sites) == [35.0, 25.0, 25.0]
    assert app.portfolio(sites, workers=1).unchanged
