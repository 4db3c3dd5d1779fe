"""Inputs that allow no map: a clear message, or an empty layer with its reason."""

from __future__ import annotations

import json
import math
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]

PLACES = {"P1": (0, 0), "P2": (40, 5), "P3": (10, 35), "P4": (55, 40), "P5": (90, 10)}
TOPS = (6.0, 12.0, 18.0)
EAST, NORTH = 500_000, 5_300_000
CRITERIA = "analyte,value,unit,basis\ntoluene,20,ug/L,invented\nxylenes,5,ug/L,invented\n"
SETTINGS = """crs = "EPSG:32632"
name = "made-up yard"
vertical_datum = "local"
[model]
rounds = "all"
[plume_extent]
rounds = "all"
elevations_m = [88.0]
realisations = 20
[map_band]
rounds = "all"
elevations_m = [88.0]
cell_m = 10.0
[plume_change]
confidence = 0.6
elevations_m = [88.0]
realisations = 20
"""


def zones() -> list[tuple[str, str, float]]:
    """Name, hole and top of every interval; P1 has a fourth: enough detections for a field."""
    each = [(f"{hole}-{k}", hole, top) for hole in PLACES for k, top in enumerate(TOPS)]
    return [*each, ("P1-3", "P1", 15.0)]


def samples() -> tuple[list[str], list[str]]:
    """Round A in one borehole, B and the cleaner C in all; toluene is found, xylenes never."""
    taken, found = [], []
    for name, hole, top in zones():
        for round_, day, share in (
            ("A", "2031-04-01", 1.0),
            ("B", "2031-09-01", 1.0),
            ("C", "2032-09-01", 0.03),
        ):
            if round_ == "A" and hole != "P1":
                continue
            sample = f"{name}-{round_}"
            x, y = PLACES[hole]
            value = 2000 * share * math.exp(-math.hypot(x - 5, 2 * y) / 12 - (top - 6) / 8)
            taken.append(f"{sample},{name},{day} 10:00,{round_},primary,water")
            found.append(
                f"{sample},toluene,{value:.3g},ug/L" if value > 1 else f"{sample},toluene,<1,ug/L"
            )
            found.append(f"{sample},xylenes,<1,ug/L")
    return taken, found


def write_site(folder: Path) -> Path:
    """A site of five holes without tests."""
    taken, found = samples()
    holes = [f"{h},{EAST + x},{NORTH + y},100,24" for h, (x, y) in PLACES.items()]
    tables = {
        "boreholes": ("borehole,x,y,ground_elevation_m,depth_m", holes),
        "intervals": (
            "interval,borehole,top_m,bottom_m,isolation",
            [f"{n},{h},{t},{t + 2},straddle" for n, h, t in zones()],
        ),
        "samples": ("sample,interval,sampled_at,round,kind,medium", taken),
        "results": ("sample,analyte,value,unit", found),
    }
    for name, (header, rows) in tables.items():
        (folder / f"{name}.csv").write_text("\n".join([header, *rows]) + "\n")
    (folder / "criteria.csv").write_text(CRITERIA)
    (folder / "site.toml").write_text(SETTINGS)
    return folder


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory, command: Command) -> Path:
    """The site, run once. Treat it as read-only."""
    folder = write_site(tmp_path_factory.mktemp("yard"))
    answer = command("run", folder)
    assert answer.returncode == 0, answer.stderr
    return folder


def rows_of(command: Command, folder: Path, table: str) -> list[dict[str, Any]]:
    """A table of the site file as the command shows it."""
    answer = command("show", next(folder.glob("*.gpkg")), table, "--format", "json")
    assert answer.returncode == 0, answer.stderr
    found: list[dict[str, Any]] = json.loads(answer.stdout)
    return found


def test_a_criterion_without_a_unit_is_refused(command: Command, tmp_path: Path) -> None:
    """The file, the row and what to do are named, and no site file is left behind."""
    folder = write_site(tmp_path)
    (folder / "criteria.csv").write_text(CRITERIA.replace("toluene,20,ug/L", "toluene,20,"))
    answer = command("run", folder)
    assert answer.returncode == 1
    for word in ("criteria.csv row 2", "unit", "Fill the cell"):
        assert word in answer.stderr
    assert not list(folder.glob("*.gpkg"))


def test_rounds_and_analytes_that_allow_no_map_are_said_and_left_out(
    command: Command, ran: Path
) -> None:
    """Never detected, or sampled in one borehole only: findings, and no map is made up."""
    fitted = {(r["quantity"], r["round"]) for r in rows_of(command, ran, "model")}
    assert {("toluene", "B"), ("toluene", "C")} <= fitted
    assert not any(name == "xylenes" for name, _ in fitted)
    for table, column in (("map_band", "quantity"), ("plume_extent", "analyte")):
        mapped = {(r[column], r["round"]) for r in rows_of(command, ran, table)}
        assert ("toluene", "B") in mapped
        assert ("toluene", "A") not in mapped
        assert {name for name, _ in mapped} == {"toluene"}
    findings = rows_of(command, ran, "finding")
    said = {(r["step"], r["row_key"]): r["what"] for r in findings}
    for step in ("map_band", "plume_extent", "plume_change"):
        assert "data in 1 borehole(s)" in said[step, "toluene A"]
    assert "no detection in 16 tests" in said["model", "xylenes B"]
    assert any("no change of toluene from A to B: no map of A" in r["what"] for r in findings)


def test_the_change_between_two_rounds_is_mapped(command: Command, ran: Path) -> None:
    """From B to C every result falls to 3 %: ground is lost, none is gained, and all adds up."""
    rows = rows_of(command, ran, "plume_change")
    assert {(r["round_before"], r["round"]) for r in rows} == {("B", "C")}
    changes = {r["change"] for r in rows}
    assert "lost" in changes
    assert "gained" not in changes
    assert all(r["expected_change_m2"] < 0 for r in rows)
    whole = {
        surface: sum(r["area_m2"] for r in rows if r["surface"] == surface)
        for surface in ("elevation", "any depth")
    }
    assert whole["elevation"] == pytest.approx(whole["any depth"], rel=1e-6)


def test_a_site_without_heads_has_no_head_contours_and_no_border_distance(
    command: Command, ran: Path
) -> None:
    """Empty layer, empty column, exit 0: nothing is guessed."""
    assert rows_of(command, ran, "head_contour") == []
    extents = rows_of(command, ran, "plume_extent")
    assert extents
    assert all(r["distance_to_site_boundary_m"] is None and r["mass_kg"] is None for r in extents)


def test_a_figure_from_one_borehole_is_refused(command: Command, tmp_path: Path) -> None:
    """Only the round in one borehole: the run draws the boreholes alone, and says why."""
    folder = write_site(tmp_path)
    lines = (folder / "samples.csv").read_text().splitlines()
    kept = [line for line in lines if line.startswith("sample,") or ",A,primary" in line]
    names = {line.split(",")[0] for line in kept}
    (folder / "samples.csv").write_text("\n".join(kept) + "\n")
    found = (folder / "results.csv").read_text().splitlines()
    (folder / "results.csv").write_text(
        "\n".join(line for line in found if line.split(",")[0] in names) + "\n"
    )
    answer = command("run", folder)
    assert answer.returncode == 0, answer.stderr
    assert rows_of(command, folder, "map_band") == []
    assert rows_of(command, folder, "plume_extent") == []
    assert (folder / "out" / "map.png").exists()
    assert any("do not span a map" in r["what"] for r in rows_of(command, folder, "finding"))
