"""Hydrostratigraphic units through the real command: fields, maps, figures and refusals."""

from __future__ import annotations

import csv
import io
import math
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]

HOLES = {"U1": (0, 0), "U2": (50, 5), "U3": (10, 45), "U4": (60, 50), "U5": (30, 25)}
LOG_K = {"sand": -4.5, "clay": -7.0}
TOPS = (2.0, 4.5, 7.0, 12.0, 14.5, 17.0)  # the contact lies 10 to 11 m down
SETTINGS = """crs = "EPSG:32632"
name = "made-up layers"
vertical_datum = "local"
[geology]
units = ["aquifer = sand, gravel", "clay"]
[map_band]
elevations_m = []
depths_m = [5]
units = ["all"]
cell_m = 10.0
statistics = ["median"]
"""
# radius of the riser, length and radius of the zone [m]; Hvorslev (1951), case 8, from memory
RISER, LENGTH, HOLE = 0.025, 1.5, 0.05
FACTOR = RISER**2 * math.log(LENGTH / HOLE + math.sqrt(1 + (LENGTH / HOLE) ** 2)) / (2 * LENGTH)


def write(folder: Path) -> Path:
    """Five holes through sand and gravel into clay; K is three hundred times less in the clay."""
    lines: dict[str, list[str]] = {
        "boreholes": ["borehole,x,y,ground_elevation_m,depth_m"],
        "construction": ["borehole,top_m,bottom_m,kind,diameter_mm"],
        "lithology": ["borehole,top_m,bottom_m,unit"],
        "intervals": ["interval,borehole,top_m,bottom_m,isolation,static_depth_m"],
        "tests": ["test,interval,kind,started_at,riser_diameter_mm"],
        "readings": ["test,elapsed_s,displacement_m"],
    }
    for number, (hole, (x, y)) in enumerate(HOLES.items()):
        contact = 10.0 + 0.25 * number
        lines["boreholes"].append(f"{hole},{500_000 + x},{5_300_000 + y},100,20")
        lines["construction"].append(f"{hole},0,20,open hole,100")
        for top, bottom, unit in ((0, 6, "Sand"), (6, contact, "gravel"), (contact, 20, "clay")):
            lines["lithology"].append(f"{hole},{top},{bottom},{unit}")
        for k, top in enumerate(TOPS):
            zone, level = f"{hole}-{k}", LOG_K["sand" if top < 10 else "clay"]
            lag = FACTOR / 10 ** (level + 0.1 * math.sin(3 * number + k))
            lines["intervals"].append(f"{zone},{hole},{top},{top + LENGTH},straddle,1.0")
            lines["tests"].append(f"T{zone},{zone},falling head,2031-05-01T10:00:00,50")
            for share in (0.1, 0.2, 0.4, 0.7, 1.0, 1.4, 1.8, 2.3, 3.0):
                row = f"T{zone},{share * lag:.4g},{0.8 * math.exp(-share):.4f}"
                lines["readings"].append(row)
    folder.mkdir()
    (folder / "site.toml").write_text(SETTINGS)
    for name, rows in lines.items():
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n")
    return folder


def rows_of(command: Command, folder: Path, table: str) -> list[dict[str, str]]:
    """A table of the site as the command shows it."""
    answer = command("show", "site.gpkg", table, "--format", "csv", cwd=folder)
    assert answer.returncode == 0, answer.stderr
    return list(csv.DictReader(io.StringIO(answer.stdout)))


@pytest.fixture(scope="module")
def layered(command: Command, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The layered site with its maps, drawn into the folder maps."""
    folder = write(tmp_path_factory.mktemp("units") / "site")
    for words in (
        ("create", "site.gpkg", "--crs", "EPSG:32632"),
        ("load", "site.gpkg", "."),
        ("map", "site.gpkg", "--figures", "maps"),
    ):
        answer = command(*words, cwd=folder)
        assert answer.returncode == 0, answer.stderr
    return folder


def test_k_stops_at_the_contact_and_is_mapped_in_each_unit(command: Command, layered: Path) -> None:
    """The field says that it keeps units apart; sand and clay share no band."""
    (field,) = rows_of(command, layered, "model")
    assert field["geology"] == "units"
    bands = rows_of(command, layered, "map_band")
    assert {row["surface"] for row in bands} == {"elevation", "depth", "unit"}
    labels = {
        unit: {row["label"] for row in bands if row["hydro_unit"] == unit}
        for unit in ("aquifer", "clay")
    }
    assert labels["aquifer"]
    assert labels["clay"]
    assert not labels["aquifer"] & labels["clay"]


def test_the_map_command_draws_each_place(layered: Path) -> None:
    """One figure per quantity, and one for each depth and unit that is mapped."""
    drawn = {path.stem for path in (layered / "maps").glob("*.png")}
    places = {"map_k", "map_k_depth_5_m", "map_k_unit_aquifer", "map_k_unit_clay"}
    assert drawn == {"map_boreholes"} | places


@pytest.mark.parametrize(
    ("setting", "said"),
    [
        ('geology.units=["sand", "gravel = gravel, Sand"]', "where 'sand' comes again"),
        ("model.geology=layers", "one of none, auto, units"),
        ("map_band.thinnest_m=-1", "0 or more"),
    ],
)
def test_wrong_settings_are_refused(
    command: Command, layered: Path, setting: str, said: str
) -> None:
    """Exit 2, the setting, and what is allowed; nothing is changed."""
    before = (layered / "site.gpkg").read_bytes()
    answer = command("map", "site.gpkg", "--set", setting, cwd=layered)
    assert answer.returncode == 2
    assert said in answer.stderr
    assert setting.partition("=")[0].partition(".")[2] in answer.stderr
    assert "Traceback" not in answer.stderr
    assert (layered / "site.gpkg").read_bytes() == before


def test_a_log_deeper_than_its_hole_is_refused(command: Command, tmp_path: Path) -> None:
    """The row is named."""
    folder = write(tmp_path / "site")
    path = folder / "lithology.csv"
    path.write_text(path.read_text().replace("U1,10.0,20,clay", "U1,10.0,27,clay"))
    answer = command("run", ".", cwd=folder)
    assert answer.returncode == 1
    assert "lithology.csv" in answer.stderr
    assert "27" in answer.stderr
