"""The page for the first hour is run as it stands: every file and every command of it."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

import geoprofile
from geoprofile.cli import cli

PAGE = Path(geoprofile.__file__).parent / "reference" / "first_site.md"
BLOCK = re.compile(r"(?:^`(?P<name>[^`\n]+)`\n)?^```(?P<kind>\w+)\n(?P<text>.*?)^```", re.M | re.S)


def steps() -> list[list[tuple[str, str]]]:
    """Files and commands of each section of the page."""
    sections = PAGE.read_text(encoding="utf-8").split("\n## ")[1:4]
    return [
        [(m["name"] or m["kind"], m["text"]) for m in BLOCK.finditer(section)]
        for section in sections
    ]


def follow(section: list[tuple[str, str]]) -> str:
    """Write the files and run the commands of a section; what the commands said."""
    said = ""
    for name, text in section:
        if name == "sh":
            words = shlex.split(text)
            assert words[0] == "geoprofile"
            answer = CliRunner().invoke(cli, words[1:], standalone_mode=False)
            assert answer.exception is None, answer.output
            said += answer.output
        else:
            path = Path(name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    return said


def test_the_page_does_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One hole gives profiles of K and chemistry, three give a map; each says what comes next."""
    monkeypatch.chdir(tmp_path)
    k_of_one, chemistry, three = steps()
    out = tmp_path / "first" / "out"
    blank = CliRunner().invoke(cli, ["templates", "first"], standalone_mode=False)
    assert blank.exception is None
    said = follow(k_of_one)
    assert "a map needs three boreholes" in said
    assert "samples.csv and results.csv: concentrations along each hole" in said
    assert (out / "k_profile_b1.png").stat().st_size > 10_000
    assert not (out / "map.png").exists()
    assert "Not drawn" not in said
    said = follow(chemistry)
    assert (out / "chemistry_profile_b1.png").stat().st_size > 10_000
    assert "criteria.csv" in said
    assert "K along each hole" not in said
    said = follow(three)
    assert (out / "map.png").stat().st_size > 10_000
    assert "Field of TCE" in said
    assert "packers.csv and spacers.csv" in said
    assert (tmp_path / "first" / "profiles" / "k_profile_b1.png").exists()
