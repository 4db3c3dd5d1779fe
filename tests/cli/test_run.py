"""The main job through the real command and real files."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from geoprofile.store import Store

Command = Callable[..., subprocess.CompletedProcess[str]]


def test_run_says_in_about_ten_lines_what_was_found(
    demo_answer: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    """Grades, K range, fields, plume, worst finding and best next test are read out."""
    _, answer = demo_answer
    assert answer.returncode == 0, answer.stderr
    lines = answer.stdout.splitlines()
    assert 8 <= len(lines) <= 15
    for word in ("Tests:", "K:", "Field of TCE", "m2", "Findings:", "Best next step", "Caution"):
        assert word in answer.stdout
    tests, graded = (
        sum(map(int, re.findall(pattern, answer.stdout)))
        for pattern in (r"(\d+) tests,", r"(\d+) (?:accepted|qualified|rejected|not analysed)")
    )
    assert tests == graded  # every test is in one of the numbers
    assert "\x1b[" not in answer.stdout + answer.stderr  # no colours where there is no terminal


def test_run_fills_every_layer(demo_run: Path) -> None:
    """Every derived layer that the site's data allow holds rows, and the figures are there."""
    site = Store.open(demo_run / "site.gpkg").read()
    for table in (
        "borehole_path",
        "conductivity",
        "interval_conductivity",
        "concentration",
        "head",
        "flow",
        "model",
        "map_band",
        "plume_extent",
        "section_trace",
        "section_band",
        "section_interval",
        "section_hole",
        "section_plume",
        "section_surface",
        "next_test",
        "finding",
        "run",
    ):
        assert len(site.table(table)), table
    assert list((demo_run / "out").glob("section_*.png"))
    assert list((demo_run / "out").glob("section_*.svg"))


def test_quiet_says_nothing(demo_run: Path, command: Command, tmp_path: Path) -> None:
    """With --quiet nothing is printed at all."""
    folder = tmp_path / "copy"
    shutil.copytree(demo_run, folder)
    answer = command("run", folder, "--quiet")
    assert (answer.returncode, answer.stdout, answer.stderr) == (0, "", "")


def test_a_second_run_computes_nothing_and_says_so(
    demo_run: Path, command: Command, tmp_path: Path
) -> None:
    """Nothing changed: the summary again, no new run in the record, the file untouched."""
    folder = tmp_path / "copy"
    shutil.copytree(demo_run, folder)
    before = (folder / "site.gpkg").read_bytes()
    answer = command("run", folder)
    assert "Nothing has changed" in answer.stderr
    assert "Tests:" in answer.stdout
    assert (folder / "site.gpkg").read_bytes() == before


def test_one_changed_file_redoes_only_what_depends_on_it(
    demo_run: Path, command: Command, tmp_path: Path
) -> None:
    """A new criterion leaves K and heads as they are; a user's own column keeps its values."""
    folder = tmp_path / "copy"
    shutil.copytree(demo_run, folder)
    with sqlite3.connect(folder / "site.gpkg") as connection:
        connection.execute("ALTER TABLE interval ADD COLUMN seen_by TEXT")
        connection.execute("UPDATE interval SET seen_by = 'somebody'")
    connection.close()
    path = folder / "criteria.csv"
    path.write_text(path.read_text().replace("TCE,10,", "TCE,20,"))
    answer = command("run", folder, "--verbose")
    assert answer.returncode == 0, answer.stderr
    computed = next(x for x in answer.stderr.splitlines() if x.startswith("computed:"))
    assert "conductivity" not in computed.split(": ")[1].split(", ")
    assert "head" not in computed
    assert "concentration" in computed
    assert "plume_extent" in computed
    site = Store.open(folder / "site.gpkg").read()
    extents = site.table("plume_extent")
    assert set(extents[extents["analyte"] == "TCE"]["criterion_ug_per_l"]) == {20.0}
    assert set(site.intervals["seen_by"]) == {"somebody"}


@pytest.mark.calibration  # by default the review of the demonstration proves it, in test_examples
def test_the_same_folder_gives_the_same_tables(
    demo_run: Path, demo_copy: Path, command: Command
) -> None:
    """Two runs from scratch give the same content in every table."""
    assert command("run", demo_copy, "--quiet").returncode == 0
    first, second = (Store.open(f / "site.gpkg") for f in (demo_run, demo_copy))
    names = [t for t in first.read().tables if t not in ("run", "step", "source_file", "loaded")]
    assert first.fingerprints(names) == second.fingerprints(names)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["conductivity", "site.gpkg", "--format", "csv"], "interval,k_m_per_s"),
        (["interpolate", "site.gpkg"], "log_score"),
        (["map", "site.gpkg", "--format", "json"], '"probability"'),
        (["show", "site.gpkg", "borehole"], "ground_elevation_m"),
        (["show", "site.gpkg", "run", "--columns", "command,version"], "run"),
        (["plugins", "layers"], "map_band"),
        (["check", "site.gpkg"], ""),
    ],
)
def test_each_command_answers(
    demo_run: Path, command: Command, tmp_path: Path, words: list[str], found: str
) -> None:
    """Every command's happy path ends with 0 and a table on stdout."""
    shutil.copy(demo_run / "site.gpkg", tmp_path / "site.gpkg")
    answer = command(*words, cwd=tmp_path)
    assert answer.returncode == 0, answer.stderr
    assert found in answer.stdout


def test_advice_says_what_to_mind(demo_run: Path, command: Command, tmp_path: Path) -> None:
    """Pressure, contaminated water and buried services stand where somebody acts on the list."""
    shutil.copy(demo_run / "site.gpkg", tmp_path / "site.gpkg")
    answer = command("advise", "site.gpkg", cwd=tmp_path)
    assert answer.returncode == 0, answer.stderr
    said = answer.stderr
    for words in ("before inflating", "contaminated", "buried services", "licensed practice"):
        assert words in said
    listed = [line.partition(". ")[0] for line in answer.stdout.splitlines()]
    assert listed == [str(n) for n in range(1, len(listed) + 1)]  # one list, nothing beside it
    assert "expected (10 to 90 %): " in answer.stdout


def test_field_tables_are_not_changed_by_computing(
    demo_run: Path, command: Command, tmp_path: Path
) -> None:
    """A computing command leaves every input table as it was, byte for byte."""
    from geoprofile.schema import INPUT

    path = tmp_path / "site.gpkg"
    shutil.copy(demo_run / "site.gpkg", path)
    names = [t.name for t in INPUT]
    before = Store.open(path).fingerprints(names)
    answer = command("interpolate", path, "--again", "--set", "model.trend=constant")
    assert answer.returncode == 0, answer.stderr
    assert Store.open(path).fingerprints(names) == before


def test_k_at_another_temperature_is_printed_on_request(demo_run: Path, command: Command) -> None:
    """At 20 degC K is larger than in place by the ratio of the viscosities."""
    answer = command(
        "conductivity", demo_run / "site.gpkg", "--reference-temperature", "20", "--format", "json"
    )
    assert answer.returncode == 0, answer.stderr
    rows = [r for r in json.loads(answer.stdout) if r["k_at_20_c_m_per_s"] is not None]
    assert rows
    for row in rows:
        warmer = row["k_at_20_c_m_per_s"] / row["k_m_per_s"]
        # 1.30191 between 10 and 20 degC: IAPWS SR6-08 and Tanaka et al. (2001)
        assert warmer == pytest.approx(
            1.30191 ** ((20 - row["water_temperature_c"]) / 10), rel=0.01
        )
