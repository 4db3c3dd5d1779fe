"""The last figures kept with the program: every case of the book, and what takes hours."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import NamedTuple

FILE = "committed.csv"
STUDIES = "long_studies.csv"


class Study(NamedTuple):
    """A test that takes long and runs from a copy of the source, with its last figure.

    `kind` is `calibration` or `bench`. `figure` is empty where no result was written down, else it
    comes with the day and the place where it was; one that was only passed is no figure.
    """

    topic: str
    kind: str
    what: str
    command: str
    figure: str
    recorded_on: str
    recorded_in: str


@cache
def kept() -> Mapping[str, Mapping[str, str]]:
    """Rows of the file kept with the program, by the case's name; none where there is none."""
    return {row["case"]: row for row in _rows(FILE)}


@cache
def studies() -> tuple[Study, ...]:
    """Every calibration and every bench beside a peer, by topic."""
    return tuple(Study(**row) for row in _rows(STUDIES))


def _rows(name: str) -> list[dict[str, str]]:
    place = resources.files("geoprofile.validation").joinpath(name)
    if not place.is_file():
        return []
    return list(csv.DictReader(place.read_text(encoding="utf-8").splitlines()))
