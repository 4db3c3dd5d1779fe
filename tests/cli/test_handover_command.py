"""The hand-over through the real command and the real demonstration."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def delivered(
    demo_run: Path, command: Command, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """A hand-over in several formats with a review, and what the command answered."""
    folder = tmp_path_factory.mktemp("handover") / "for_the_client"
    formats = "geopackage,csv,geojson,shapefile,dxf,sld"
    return folder, command(
        "handover", demo_run / "site.gpkg", folder, "--formats", formats, "--review"
    )


def test_handover_packs_every_format(delivered) -> None:
    """Exit 0; a folder per format, each with its loss report; losses are told on stderr."""
    folder, answer = delivered
    assert answer.returncode == 0, answer.stderr
    for name in ("geopackage", "csv", "geojson", "shapefile", "dxf", "sld"):
        assert (folder / name / "losses.txt").is_file()
    told = [line for line in answer.stderr.splitlines() if line.startswith("shapefile: ")]
    assert len(told) == 1
    assert told[0].endswith("in full in shapefile/losses.txt")
    assert "conductivity.shp: renamed" in (folder / "shapefile" / "losses.txt").read_text("utf-8")
    assert "README.txt" in answer.stdout


def test_geopackage_passes_our_own_check(delivered) -> None:
    """The check of site files finds no error in the structure of the file handed over."""
    folder, _ = delivered
    file = next((folder / "geopackage").glob("*.gpkg"))
    with sqlite3.connect(file) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert not connection.execute("PRAGMA foreign_key_check").fetchall()
    connection.close()


def test_sums_hold_for_the_usual_tool(delivered) -> None:
    """`sha256sum -c` of the system accepts the list of sums."""
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("no sha256sum on this system")
    folder, _ = delivered
    answer = subprocess.run(
        [tool, "--quiet", "-c", "checksums.sha256"], cwd=folder, capture_output=True, check=False
    )
    assert answer.returncode == 0, answer.stdout


def test_strict_is_refused_with_every_loss(demo_run: Path, command: Command, tmp_path) -> None:
    """Exit 1, nothing written."""
    answer = command(
        "handover", demo_run / "site.gpkg", tmp_path / "x", "--formats", "geojson", "--strict"
    )
    assert answer.returncode == 1
    assert "no loss" in answer.stderr
    assert not (tmp_path / "x").exists()


def test_a_folder_in_use_is_refused(demo_run: Path, command: Command, tmp_path) -> None:
    """Exit 2, and what is there stays."""
    (tmp_path / "notes.txt").write_text("mine")
    answer = command("handover", demo_run / "site.gpkg", tmp_path)
    assert answer.returncode == 2
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_changed_input_is_noticed(demo_run: Path, command: Command, tmp_path) -> None:
    """A file that is no longer as it was loaded stops a review; nothing is written."""
    copy = tmp_path / "site"
    shutil.copytree(demo_run, copy)
    with (copy / "boreholes.csv").open("a") as file:
        file.write("\n")
    answer = command("handover", copy / "site.gpkg", tmp_path / "x", "--review")
    assert answer.returncode == 1
    assert "boreholes.csv" in answer.stderr
    assert not (tmp_path / "x").exists()
