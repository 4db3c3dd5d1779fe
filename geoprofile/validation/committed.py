"""The last figures kept with the program: every case of the book, and what takes hours."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import NamedTuple

FILE = "committed.csv"


class Calibration(NamedTuple):
    """A study that takes long and runs from a copy of the source; `figure` is its last result."""

    topic: str
    what: str
    command: str
    figure: str


SITES = "python tests/calibration/solved_scores.py report scores.jsonl"
CALIBRATIONS = (
    Calibration(
        "plume",
        "Log-loss and overlap of plumes on 23 sites of solved flow and transport",
        SITES,
        "0.178 and 0.365",
    ),
    Calibration(
        "plume",
        "Share of plume in ground called below 5 %, the same sites",
        SITES,
        "1.2 %, 4.3 % at worst",
    ),
)


@cache
def kept() -> Mapping[str, Mapping[str, str]]:
    """Rows of the file kept with the program, by the case's name; none where there is none."""
    place = resources.files("geoprofile.validation").joinpath(FILE)
    if not place.is_file():
        return {}
    rows = csv.DictReader(place.read_text(encoding="utf-8").splitlines())
    return {row["case"]: row for row in rows}
