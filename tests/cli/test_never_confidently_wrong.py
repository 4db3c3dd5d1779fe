"""One detection, no detection, results without structure, a plume with an end: what is told."""

from __future__ import annotations

import csv
import io
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]

SETTINGS = """crs = "EPSG:32632"
name = "made-up tank farm"
vertical_datum = "local"
[map_band]
elevations_m = [-6]
cell_m = 12.0
[plume_extent]
realisations = 40
[next_borehole]
grid_m = 40
"""
NAMES = ("plume", "noise", "once", "never")


def results(rng: np.random.Generator, x: float, y: float, depth: float) -> dict[str, str]:
    """A plume along easting, decades of noise, and two that are never there."""
    body = 600 * np.exp(-(y**2) / 500 - (depth - 7) ** 2 / 10 - np.maximum(-x, 0) / 5 - x / 90)
    wild = 10 ** rng.uniform(-1, 3)
    return {
        "plume": f"{body:.3g}" if body > 1 else "<1",
        "noise": f"{wild:.3g}" if wild > 1 else "<1",
        "once": "<1",
        "never": "<1",
    }


@pytest.fixture(scope="module")
def ran(
    command: Command, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """Twelve holes, run through the real command."""
    folder = tmp_path_factory.mktemp("limits") / "site"
    rng = np.random.default_rng(4)
    lines = {
        "boreholes": ["borehole,x,y,ground_elevation_m,depth_m"],
        "intervals": ["interval,borehole,top_m,bottom_m,isolation"],
        "samples": ["sample,interval,sampled_at,round,kind,medium"],
        "results": ["sample,analyte,value,unit,limit"],
        "criteria": ["analyte,value,unit,basis", *(f"{n},10,ug/L,invented" for n in NAMES)],
    }
    spots = [(x, y) for x in (0.0, 35.0, 70.0, 105.0) for y in (-25.0, 3.0, 28.0)]
    for number, (x, y) in enumerate(spots):
        hole = f"H{number + 1}"
        lines["boreholes"].append(f"{hole},{400_000 + x},{5_200_000 + y},0,16")
        for top in (2.0, 5.0, 8.0, 11.0, 14.0):
            zone = f"{hole}-{top:.0f}"
            lines["intervals"].append(f"{zone},{hole},{top},{top + 1.5},straddle")
            lines["samples"].append(f"S{zone},{zone},2031-05-01T10:00,R1,primary,water")
            for name, value in results(rng, x, y, top + 0.7).items():
                told = "37" if (name, zone) == ("once", "H5-8") else value
                lines["results"].append(f"S{zone},{name},{told},ug/L,1")
    folder.mkdir()
    (folder / "site.toml").write_text(SETTINGS)
    for name, rows in lines.items():
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n")
    return folder, command("run", folder)


def rows(command: Command, folder: Path, table: str) -> list[dict[str, str]]:
    """A table as the command shows it."""
    answer = command("show", "site.gpkg", table, "--format", "csv", cwd=folder)
    assert answer.returncode == 0, answer.stderr
    return list(csv.DictReader(io.StringIO(answer.stdout)))


def test_one_detection_is_a_value_at_a_place(command, ran):
    """No model, no volume, no borehole; the value and its zone are the first things told."""
    folder, answer = ran
    assert answer.returncode == 0, answer.stderr
    head = answer.stdout.splitlines()[:6]
    assert any("once (R1): detected in 1 of 60 intervals" in line for line in head)
    assert any("37 ug/L in H5 at 8.0 to 9.5 m" in line for line in head)
    assert any("never (R1): not detected in 60 intervals" in line for line in head)
    for table, column in (
        ("model", "quantity"),
        ("plume_extent", "analyte"),
        ("next_borehole", "quantity"),
    ):
        assert "once" not in {row[column] for row in rows(command, folder, table)}


def test_results_without_structure_are_not_mapped(command, ran):
    """A field that predicts nothing is said first, and maps and advice leave it out."""
    folder, answer = ran
    model = {row["quantity"]: row for row in rows(command, folder, "model")}
    assert model["noise"]["shown_as"] == "limits"
    gains = {n: float(r["log_score_constant"]) - float(r["log_score"]) for n, r in model.items()}
    assert gains["noise"] < 0.1 < gains["plume"]
    assert "noise (R1): no map, volume or discharge" in answer.stdout
    for table, column in (
        ("map_band", "quantity"),
        ("plume_extent", "analyte"),
        ("plume_line", "analyte"),
        ("next_test", "quantity"),
    ):
        assert "noise" not in {row[column] for row in rows(command, folder, table)}
    found = [row for row in rows(command, folder, "finding") if row["row_key"] == "noise R1"]
    assert any(row["severity"] == "serious" for row in found)


def test_a_plume_has_lines_of_confidence(command, ran):
    """Outer and inner line nest about the even chance; what is assumed is a part of the volume."""
    folder, answer = ran
    model = {row["quantity"]: row for row in rows(command, folder, "model")}
    assert model["plume"]["shown_as"] == "field"
    lines = {row["line"]: row for row in rows(command, folder, "plume_line")}
    extents = rows(command, folder, "plume_extent")
    deep = [row for row in extents if row["surface"] == "any depth"]
    (even,) = [row for row in deep if float(row["probability"]) == 0.5]
    assert float(lines["outer"]["area_m2"]) > float(even["area_m2"])
    if "inner" in lines:
        assert float(lines["inner"]["area_m2"]) < float(even["area_m2"])
    assert 0.0 <= float(even["volume_assumed_m3"]) <= float(even["volume_m3"])
    assert float(even["open_below_m2"]) >= 0.0
    assert "The outer line" in answer.stdout
    opened = lines["outer"]["notes"]
    assert (float(lines["outer"]["open_m"]) > 0) == ("a borehole near easting" in opened)
