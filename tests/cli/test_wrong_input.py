"""Wrong inputs: one clear message each, exit 1, and nothing is changed."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]
Change = Callable[[Path], None]


def replaced(name: str, old: str, new: str) -> Change:
    """Replace the first place of a text in a file."""

    def change(folder: Path) -> None:
        path = folder / name
        text = path.read_text(encoding="utf-8-sig")
        assert old in text, (name, old)
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return change


def doubled_borehole(folder: Path) -> None:
    """The first borehole twice."""
    path = folder / "boreholes.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([*lines, lines[1]]) + "\n")


def semicolons(folder: Path) -> None:
    """Another delimiter than declared."""
    path = folder / "spacers.csv"
    path.write_text(path.read_text().replace(",", ";"))


def emptied(folder: Path) -> None:
    """A file of no bytes."""
    (folder / "surveys.csv").write_bytes(b"")


def picture(folder: Path) -> None:
    """A picture under the name of a table."""
    (folder / "lithology.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200))


INTERVAL = "001-01,001,6.0,8.0"
WRONG = [
    ("swapped", replaced("intervals.csv", INTERVAL, "001-01,001,8.0,6.0"), "intervals.csv", "top"),
    ("unknown hole", replaced("intervals.csv", INTERVAL, "001-01,0O1,6.0,8.0"), "0O1", "borehole"),
    ("duplicate id", doubled_borehole, "boreholes.csv", "001"),
    ("too deep", replaced("intervals.csv", INTERVAL, "001-01,001,6.0,88.0"), "88", "depth"),
    ("geographic", replaced("site.toml", "EPSG:32628", "EPSG:4326"), "4326", "projected"),
    ("no crs", replaced("site.toml", 'crs = "EPSG:32628"', ""), "site.toml", "crs"),
    ("comma", replaced("intervals.csv", INTERVAL, '001-01,001,"6,0",8.0'), "6,0", "decimal"),
    ("delimiter", semicolons, "spacers.csv", "semicolon"),
    ("text", replaced("intervals.csv", INTERVAL, "001-01,001,six,8.0"), "six", "number"),
    ("unit", replaced("criteria.csv", "TCE,10,ug/L", "TCE,10,furlong"), "furlong", "ug/L"),
    ("empty", emptied, "surveys.csv", "empty"),
    ("other kind", picture, "lithology.csv", "CSV"),
]


@pytest.mark.parametrize(
    ("change", "where", "rule"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG]
)
def test_wrong_input_is_refused_clearly_and_changes_nothing(
    demo_copy: Path, command: Command, change: Change, where: str, rule: str
) -> None:
    """Where, what is allowed, what to do; exit 1; no site file is left behind."""
    change(demo_copy)
    answer = command("run", demo_copy)
    assert answer.returncode == 1, answer.stderr
    assert where in answer.stderr
    assert rule.lower() in answer.stderr.lower()
    assert "expected" in answer.stderr
    assert "Traceback" not in answer.stderr
    assert answer.stdout == ""
    assert not list(demo_copy.glob("*.gpkg*"))


def test_every_bad_row_is_reported_in_one_go(demo_copy: Path, command: Command) -> None:
    """Three faults in two files give three messages."""
    replaced("intervals.csv", INTERVAL, "001-01,001,six,8.0")(demo_copy)
    replaced("intervals.csv", "001-02,001,", "001-02,001,x")(demo_copy)
    replaced("spacers.csv", "S10,1.0", "S10,-1.0")(demo_copy)
    answer = command("run", demo_copy)
    assert answer.returncode == 1
    assert answer.stderr.count("error:") == 3
    assert "3 problems" in answer.stderr


def test_bad_rows_leave_a_stored_site_as_it_was(
    demo_run: Path, command: Command, tmp_path: Path
) -> None:
    """All or nothing: a bad file after a good load changes no byte."""
    import shutil

    folder = tmp_path / "copy"
    shutil.copytree(demo_run, folder)
    before = (folder / "site.gpkg").read_bytes()
    replaced("intervals.csv", INTERVAL, "001-01,001,8.0,6.0")(folder)
    answer = command("run", folder)
    assert answer.returncode == 1
    assert (folder / "site.gpkg").read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ["rum", "x"],
        ["run"],
        ["run", "nowhere", "--prefer", "nobody"],
        ["show", "site.gpkg"],
        ["map", "site.gpkg", "--set", "cells"],
    ],
)
def test_wrong_usage_ends_with_2(command: Command, tmp_path: Path, words: list[str]) -> None:
    """A command that is not understood says so and ends with 2."""
    answer = command(*words, cwd=tmp_path)
    assert answer.returncode == 2
    assert "Traceback" not in answer.stderr


def test_a_folder_that_is_not_there_is_named(command: Command, tmp_path: Path) -> None:
    """A missing folder is an error of the data, named; nobody is told to make a file in it."""
    answer = command("run", tmp_path / "nowhere")
    assert answer.returncode == 1
    assert "nowhere: found no such folder" in answer.stderr
    assert "Make site.toml" not in answer.stderr
