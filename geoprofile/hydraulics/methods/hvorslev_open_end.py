"""Straight-line method for the flat open end of a casing."""

from __future__ import annotations

import dataclasses
import math

from geoprofile.hydraulics.shapes import flat_end
from geoprofile.hydraulics.situation import is_open_end
from geoprofile.hydraulics.straight import Formula, straight_line
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "hvorslev-open-end"
WINDOW = (0.25, 0.15)  # [-] Butler (1998), from memory
METHOD_SD_LN = 0.10  # [-] soil in the casing and anisotropy; common practice, no source


def _length_and_ratio(test: HydraulicTest) -> tuple[float, float]:
    """One hole diameter stands in for the length; only P / L = 2 pi / F matters."""
    length = 2.0 * test.hole_radius_m
    return length, 2.0 * math.pi * length / flat_end(2.0 * test.hole_radius_m)


def applies(test: HydraulicTest) -> Applicability:
    """Whether water passes only through the end of the casing."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if not is_open_end(test):
        return Applicability(False, 0.0, "the interval has an open wall, not only an open end")
    return Applicability(True, 0.70, "water passes only through the open end")


def run(test: HydraulicTest) -> Conductivity:
    """K = pi rc^2 / (2.75 D T0), with D the diameter of the opening.

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no line.

    References
    ----------
    Hvorslev (1951), case 4, from memory.
    """
    length, ratio = _length_and_ratio(test)
    notes = ("an open end tests a small body; soil in the casing makes K too low",)
    return straight_line(test, Formula(NAME, ratio, length, WINDOW, METHOD_SD_LN, 0.0, notes))


def example(k: float) -> HydraulicTest:
    """A clean falling head through an open end; 2 pi 3 m / (2.75 x 0.096 m) worked by hand."""
    test = exponential_test(k, log_ratio=71.400)  # P of the 3 m that the level is made for
    return dataclasses.replace(test, interval_length_m=0.0, bottom_m=test.top_m)


PLUGIN = Method(
    name=NAME,
    title="Hvorslev, open end of casing",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Hvorslev (1951), case 4",
)
