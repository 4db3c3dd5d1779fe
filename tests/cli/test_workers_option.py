"""Worker processes behind a command change nothing but who computes."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

Command = Callable[..., subprocess.CompletedProcess[str]]


def test_grids_are_the_same_with_workers(demo_run: Path, command: Command, tmp_path: Path) -> None:
    """Two worker processes write the grids that threads write, byte for byte."""
    words = ("--formats", "geotiff", "--set", "geotiff.elevations_m=[-5]")
    words = (*words, "--set", "geotiff.cell_m=4")
    site = demo_run / "site.gpkg"
    for name, more in (("threads", ()), ("processes", ("--workers", "2"))):
        answer = command("handover", site, tmp_path / name, *words, *more)
        assert answer.returncode == 0, answer.stderr
    grids = sorted((tmp_path / "threads" / "geotiff").glob("*.tif"))
    assert grids
    for grid in grids:
        assert grid.read_bytes() == (tmp_path / "processes" / "geotiff" / grid.name).read_bytes()


def test_workers_are_counted_from_one(command: Command, tmp_path: Path) -> None:
    """No worker at all is refused as a wrong word of the command."""
    answer = command("map", tmp_path / "site.gpkg", "--workers", "0")
    assert answer.returncode == 2
    assert "--workers" in answer.stderr
