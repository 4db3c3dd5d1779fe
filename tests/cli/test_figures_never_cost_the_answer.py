"""A figure that cannot be drawn is a line in the summary, through the real command."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import corner_site

Command = Callable[..., subprocess.CompletedProcess[str]]
BROKEN = """
import sys
import geoprofile.products.figures as figures

def broken(*args, **kwargs):
    raise ZeroDivisionError("no width left")

figures.{name} = broken
from geoprofile.cli import main
sys.argv = ["geoprofile", *{words!r}]
sys.exit(main())
"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory, command: Command) -> Path:
    """The small site kept beside the tests of time, with its tests and without samples, run."""
    path = Path(__file__).parents[1] / "history" / "small_yard.py"
    spec = importlib.util.spec_from_file_location("yard_of_figures", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    folder: Path = module.write_yard(tmp_path_factory.mktemp("yard") / "yard")
    for name in ("samples.csv", "results.csv"):
        (folder / name).unlink()
    answer = command("run", folder)
    assert answer.returncode == 0, answer.stderr
    return folder


@pytest.fixture(scope="module")
def fuel(tmp_path_factory: pytest.TempPathFactory, command: Command) -> Path:
    """A fuel site whose hottest zone lies at the water table, run once."""
    folder = corner_site.write(tmp_path_factory.mktemp("fuel"), corner_site.fuel_site())
    answer = command("run", folder)
    assert answer.returncode == 0, answer.stderr
    assert "Field of benzene" in answer.stdout
    assert "Not drawn" not in answer.stdout
    return folder


def test_a_fuel_site_runs_to_the_end_with_a_map(fuel: Path) -> None:
    """The level of the map is one that is really mapped, so that map and section are there."""
    assert (fuel / "out" / "map.png").stat().st_size > 10_000
    assert list((fuel / "out").glob("section_*.png"))


def test_map_draws_a_level_that_is_mapped(fuel: Path, command: Command, tmp_path: Path) -> None:
    """`map --figures` on the same site: exit 0 and the map of benzene."""
    answer = command("map", fuel / "site.gpkg", "--figures", tmp_path)
    assert answer.returncode == 0, answer.stderr
    assert "Not drawn" not in answer.stderr
    assert (tmp_path / "map_benzene.png").exists()


COMMANDS = {
    "run": (("section_figure",), ["run", "FOLDER", "--again"]),
    "map": (("site_map",), ["map", "SITE", "--figures", "DRAWN"]),
    "section": (("section_figure",), ["section", "SITE", "--figures", "DRAWN"]),
    "conductivity": (("k_profile",), ["conductivity", "SITE", "--figures", "DRAWN"]),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_figure_that_breaks_is_told_and_the_command_goes_on(
    name: str, fuel: Path, yard: Path, tmp_path: Path
) -> None:
    """Whatever breaks while drawing: exit 0, one line for each figure, the rest is there."""
    folder = tmp_path / "site"
    shutil.copytree(fuel if name in ("map", "section") else yard, folder)
    places = {"FOLDER": folder, "SITE": folder / "site.gpkg", "DRAWN": tmp_path / "drawn"}
    functions, words = COMMANDS[name]
    for function in functions:
        said = [str(places.get(w, w)) for w in words]
        answer = subprocess.run(
            [sys.executable, "-c", BROKEN.format(name=function, words=said)],
            capture_output=True,
            text=True,
            check=False,
            cwd=Path(__file__).parents[2],
        )
        assert answer.returncode == 0, answer.stderr
        told = answer.stdout + answer.stderr
        assert "Not drawn: " in told
        assert "ZeroDivisionError: no width left" in told
        assert "Traceback" not in told
    if name == "run":
        assert "Tests:" in answer.stdout
        assert list((folder / "out").glob("section_*.png"))


def test_a_quantity_that_is_not_there_is_still_a_mistake(
    fuel: Path, command: Command, tmp_path: Path
) -> None:
    """What the user asked for by a wrong name is refused, not passed over."""
    answer = command(
        "section", fuel / "site.gpkg", "--quantity", "benzol", "--figures", tmp_path / "drawn"
    )
    assert answer.returncode == 1
    assert "'benzol'" in answer.stderr
    assert "benzene" in answer.stderr
