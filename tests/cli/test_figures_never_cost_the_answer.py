"""A figure that cannot be drawn is a line in the summary, through the real command."""

from __future__ import annotations

import importlib
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from geoprofile import app
from geoprofile.cli import main
from geoprofile.engine.rows import frame
from geoprofile.store import Store

sys.path.insert(0, str(Path(__file__).parent))
import corner_site

Command = Callable[..., subprocess.CompletedProcess[str]]


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


FIGURES = "geoprofile.products.figures."
COMMANDS = {
    "run": ("RUN", (FIGURES + "site_map", FIGURES + "section_figure")),
    "map": ("map SITE --figures DRAWN", (FIGURES + "site_map",)),
    "section": ("section SITE --figures DRAWN", (FIGURES + "section_figure",)),
    "conductivity": ("conductivity SITE --figures DRAWN", (FIGURES + "k_profile",)),
    "advise": ("advise SITE --figures DRAWN", ("geoprofile.products.advice.figure.advice_figure",)),
    "report": (
        "report SITE DRAWN/report.html",
        ("geoprofile.report.page.plan", "geoprofile.report.page.profiles"),
    ),
    "plan": (
        "plan SITE A1 --folder DRAWN",
        (
            "geoprofile.products.packer_plan.figure.draw_overview",
            "geoprofile.products.packer_plan.figure.drawing_svg",
        ),
    ),
}


def broken(*args: object, **kwargs: object) -> None:
    """What a figure does here."""
    raise ZeroDivisionError("no width left")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_figure_that_breaks_is_told_and_the_command_goes_on(
    name: str,
    small_run: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whatever breaks while drawing: exit 0, the reason where the figure would be, the rest."""
    folder, drawn = tmp_path / "site", tmp_path / "drawn"
    shutil.copytree(small_run, folder)
    shutil.rmtree(folder / "out")
    drawn.mkdir()
    line, functions = COMMANDS[name]
    for function in functions:
        module, _, one = function.rpartition(".")
        monkeypatch.setattr(importlib.import_module(module), one, broken)
    line = line.replace("RUN", "run FOLDER").replace("FOLDER", str(folder))
    line = line.replace("SITE", str(folder / "site.gpkg")).replace("DRAWN", str(drawn))
    monkeypatch.setattr(sys, "argv", ["geoprofile", *line.split()])
    main()  # leaves by SystemExit where anything is wrong
    said = capsys.readouterr()
    told = said.out + said.err + "".join(p.read_text("utf-8") for p in drawn.rglob("*.html"))
    assert "Not drawn" in told
    assert "no width left" in told
    assert "Traceback" not in told
    if name == "run":
        assert "Tests: 1" in told
        assert "no result is above it, the highest is 438 ug/L" in told  # the criterion is 900
    if name == "report":
        page = (drawn / "report.html").read_text("utf-8")
        assert page.count("no width left") >= 2
        assert "All findings" in page
    if name == "plan":
        assert list(drawn.rglob("*.pdf"))
        assert list(drawn.rglob("intervals.csv"))


def test_a_discharge_that_cannot_be_drawn_is_told(
    small_run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line for each; the other file of the command is its table."""
    site = Store.open(small_run / "site.gpkg").read()
    rows = [{"section": "a", "analyte": name} for name in ("TCE", "benzene")]
    tables = {**site.tables, "discharge": frame("discharge", rows, site.crs)}
    monkeypatch.setattr("geoprofile.products.discharge.figure.discharge_figure", broken)
    drawn = app.draw_discharge(replace(site, tables=tables), tmp_path)
    assert drawn.files == ()
    assert len(drawn.remarks) == 2
    assert "the discharge of TCE through a" in drawn.remarks[0]
    assert "no width left" in drawn.remarks[0]


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
