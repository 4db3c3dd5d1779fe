"""Settings given for one command reach its tables, its pictures and the layers that rest on it."""

from __future__ import annotations

import contextlib
import io
import json
import re
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from beside import module_of

from geoprofile.cli import main

Command = Callable[..., "Answer"]
# further open boreholes, with heads and samples: east and north [m]
WELLS = {"W1": (0, 40), "W2": (45, 42), "W3": (10, 20), "W4": (80, 20), "W5": (60, -20)}
LEVEL = 99.0
TOPS = (6.0, 11.0, 16.0)  # of the sampled zones of every borehole [m]
WIDE = (60.0, 40.0, 12.0)  # east, north, down [m] within which the plume falls to a tenth


@dataclass(frozen=True)
class Answer:
    """What a command answered."""

    returncode: int
    stderr: str


@pytest.fixture(scope="module")
def command() -> Command:
    """The command line in this process, from its arguments to its exit code."""

    def call(*words: object) -> Answer:
        said, before, code = io.StringIO(), sys.argv, 0
        sys.argv = ["geoprofile", *map(str, words)]
        with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
            try:
                main()
            except SystemExit as leaving:
                code = int(leaving.code or 0)
            finally:
                sys.argv = before
        return Answer(code, said.getvalue())

    return call


def write_levels(folder: Path, yard: ModuleType) -> None:
    """Heads that fall to the east in April and four times as steeply in June."""
    holes = yard.HOLES | WELLS
    lines = ["borehole,interval,measured_at,depth_to_water_m"]
    for day, slope in (("2026-04-10T10:00", 0.005), ("2026-06-10T10:00", 0.02)):
        for hole, (east, _) in holes.items():
            ground = 100.0 - east / 100
            lines.append(f"{hole},,{day},{ground - (LEVEL - slope * east):.3f}")
    (folder / "water_levels.csv").write_text("\n".join(lines) + "\n")
    text = (folder / "boreholes.csv").read_text()
    for hole, (east, north) in WELLS.items():
        text += f"{hole},{yard.EAST + east},{yard.NORTH + north},{100.0 - east / 100},25,\n"
    (folder / "boreholes.csv").write_text(text)


def write_plume(folder: Path, yard: ModuleType) -> None:
    """Samples of a plume wide enough that each borehole is predicted from the others.

    Three boreholes are not: there the program rightly shows measured values and no map.
    """
    holes = yard.HOLES | WELLS
    intervals, samples, results = [], [], []
    for hole, (east, north) in holes.items():
        for number, top in enumerate(TOPS, 1):
            name = f"{hole}-{number}"
            place = (east - 30.0, north - 10.0, top + 1.0 - 12.0)
            away = sum((x / w) ** 2 for x, w in zip(place, WIDE, strict=True)) ** 0.5
            results.append(f"S{name},TCE,{200 * 10**-away:.2f},ug/L,0.5,")
            if hole in WELLS:
                intervals.append(f"{name},{hole},{top},{top + 2},straddle,3.0")
                samples.append(f"S{name},{name},2026-06-01T09:30,R1")
    for table, rows in (("intervals", intervals), ("samples", samples)):
        file = folder / f"{table}.csv"
        file.write_text(file.read_text() + "\n".join(rows) + "\n")
    header = (folder / "results.csv").read_text().splitlines()[0]
    (folder / "results.csv").write_text("\n".join([header, *results]) + "\n")


@pytest.fixture(scope="module")
def site(command: Command, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small site with heads of two days: discharge across the flow, by a local gradient."""
    yard = module_of("history/small_yard.py")
    folder = yard.write_yard(tmp_path_factory.mktemp("settings") / "yard")
    write_levels(folder, yard)
    write_plume(folder, yard)
    line = json.loads((folder / "section_lines.geojson").read_text())
    line["features"][0]["geometry"]["coordinates"] = [
        [yard.EAST + 30.0, yard.NORTH - 20.0],
        [yard.EAST + 30.0, yard.NORTH + 45.0],
    ]
    (folder / "section_lines.geojson").write_text(json.dumps(line))
    (folder / "site.toml").write_text(
        (folder / "site.toml").read_text()
        + '[discharge]\ngradient = "local"\nreach_m = 200.0\nrealisations = 20\n'
        "[plume_extent]\nrealisations = 20\n[transmissivity_band]\nrealisations = 20\n"
        "[map_band]\nelevations_m = [88.0]\n"
    )
    path = folder / "site.gpkg"
    for words in (
        ("create", path, "--crs", "EPSG:32632"),
        ("load", path, folder),
        ("discharge", path),
    ):
        answer = command(*words)
        assert answer.returncode == 0, answer.stderr
    return path


def values(path: Path, query: str) -> list[Any]:
    """The one column of a query."""
    with sqlite3.connect(path) as connection:
        found = [row[0] for row in connection.execute(query)]
    connection.close()
    return found


def words_of(drawing: Path) -> set[str]:
    """What is written on a drawing."""
    return set(re.findall(r"<!-- (.*?) -->", drawing.read_text(), re.DOTALL))


@pytest.fixture(scope="module")
def mapped(site: Path, command: Command, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The map at another elevation and with another limit than site.toml says, drawn."""
    folder = tmp_path_factory.mktemp("drawn")
    answer = command(
        "map", site, "--set", "map_band.elevations_m=[84]", "--set", "map_band.most_sd=0.6",
        "--figures", folder,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    return folder


def test_the_drawn_map_lies_where_the_stored_map_lies(site: Path, mapped: Path) -> None:
    """Stored at 84 m with a limit of 0.6, and drawn so, though site.toml says 88 m."""
    assert set(values(site, "SELECT elevation_m FROM map_band")) == {84.0}
    blank = "SELECT \"limit\" FROM map_blank WHERE reason = 'uncertain'"
    assert set(values(site, blank)) == {0.6}
    words = words_of(mapped / "map_tce.svg")
    assert "TCE at elevation 84 m" in words
    blank = " ".join(" ".join(words).split())
    assert "than a factor of 4" in blank
    assert "factor of 10" not in blank


def test_a_drawing_made_later_still_shows_the_stored_map(
    site: Path, mapped: Path, command: Command, tmp_path: Path
) -> None:
    """The settings stay beside the step: stored, and read by whoever draws."""
    from geoprofile.products.figures import site_map
    from geoprofile.store import Store

    (kept,) = values(site, "SELECT settings FROM step WHERE step = 'map_band'")
    assert json.loads(kept)["elevations_m"] == [84.0]
    assert json.loads(kept)["most_sd"] == 0.6
    site_map(Store.open(site).read(), tmp_path / "later", "TCE")
    assert "TCE at elevation 84 m" in words_of(tmp_path / "later.svg")


def test_a_section_is_drawn_with_its_own_limit(
    site: Path, command: Command, tmp_path: Path
) -> None:
    """`--set section.uncertain_sd` is in the words of the legend."""
    answer = command(
        "section", site, "--set", "section.uncertain_sd=0.15", "--figures", tmp_path / "drawn"
    )
    assert answer.returncode == 0, answer.stderr
    words = " ".join(words_of(tmp_path / "drawn" / "section_along_tce.svg"))
    assert "factor of 1.4" in words


def test_days_of_the_flow_reach_the_gradient_of_discharge(site: Path, command: Command) -> None:
    """Heads of June alone are 1.6 times as steep as the mean of both days: so is the discharge.

    April falls by 0.005 and June by 0.02: the mean is 0.0125, and 0.02 / 0.0125 = 1.6.
    """
    column = "SELECT discharge_g_per_day FROM discharge"
    before = values(site, column)
    assert len(before) == 1
    answer = command("discharge", site, "--set", "flow.days=30")
    assert answer.returncode == 0, answer.stderr
    assert "near the section" in values(site, "SELECT notes FROM discharge")[0]
    assert values(site, column)[0] / before[0] == pytest.approx(1.6, rel=0.02)


def test_a_damaged_setting_is_told_without_a_traceback(
    site: Path, command: Command, tmp_path: Path
) -> None:
    """A hand in the bookkeeping: where, what, and what to do."""
    broken = tmp_path / "site.gpkg"
    broken.write_bytes(site.read_bytes())
    with sqlite3.connect(broken) as connection:
        connection.execute("UPDATE step SET settings = '{' WHERE step = 'flow'")
    connection.close()
    answer = command("map", broken)
    assert answer.returncode != 0
    assert "table step" in answer.stderr
    assert "Traceback" not in answer.stderr


def test_what_builds_on_a_layer_keeps_the_settings_it_was_computed_with(
    site: Path, command: Command, tmp_path: Path
) -> None:
    """`interpolate --set` holds for the discharge after it, and ends with `interpolate`."""
    from geoprofile.app.staleness import stale

    kept = tmp_path / "kept.gpkg"
    kept.write_bytes(site.read_bytes())
    query = "SELECT json_extract(settings, '$.seed') FROM step WHERE step = 'model'"
    assert values(kept, query) != [5]
    assert command("interpolate", kept, "--set", "model.seed=5").returncode == 0
    answer = command("discharge", kept)
    assert answer.returncode == 0, answer.stderr
    assert "kept from the command that computed it: --set model.seed=5" in answer.stderr
    assert values(kept, query) == [5]
    of_map = {layer for layer, *_ in stale(kept, ["map_band"], {})}
    assert "model" not in of_map
    for targets in (["model"], None):
        told = {layer: why for layer, why, _ in stale(kept, targets, {})}
        assert told["model"] == "other settings"
