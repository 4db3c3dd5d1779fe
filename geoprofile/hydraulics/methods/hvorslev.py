"""Straight-line method for an isolated interval in uniform ground (the usual packer test)."""

from __future__ import annotations

import math

from geoprofile.hydraulics.shapes import interval_in_ground
from geoprofile.hydraulics.situation import (
    crosses_water_table,
    is_open_end,
    refuse_open_end,
    touches_upper_boundary,
)
from geoprofile.hydraulics.straight import Formula, straight_line
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "hvorslev"
WINDOW = (0.25, 0.15)  # [-] Butler (1998), from memory
BIAS_LN = 0.05  # [-] 3 to 8 % high against a hole with one head and storage; own computation
METHOD_SD_LN = 0.03  # [-]


def _log_ratio(test: HydraulicTest) -> float:
    refuse_open_end(test)
    length = test.interval_length_m
    factor = interval_in_ground(length, test.hole_radius_m, kv_kh=test.kv_kh)
    return 2.0 * math.pi * length / factor


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval lies free in the ground."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if crosses_water_table(test):
        return Applicability(False, 0.0, "the static level lies within the interval")
    if touches_upper_boundary(test):
        return Applicability(
            False, 0.0, "the interval starts at an impermeable upper boundary, not in free ground"
        )
    if test.interval_length_m < 2.0 * test.hole_radius_m:
        return Applicability(True, 0.40, "the interval is shorter than the hole is wide")
    return Applicability(True, 0.60, "an isolated interval in uniform ground")


def run(test: HydraulicTest) -> Conductivity:
    """K = rc^2 asinh(m L / (2 rw)) / (2 L T0).

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no line.

    References
    ----------
    Hvorslev (1951), case 8, from memory.
    """
    formula = Formula(NAME, _log_ratio(test), test.interval_length_m, WINDOW, METHOD_SD_LN, BIAS_LN)
    return straight_line(test, formula)


def example(k: float) -> HydraulicTest:
    """A clean falling head; P = ln(x + sqrt(1 + x^2)), x = 3 m / (2 x 0.048 m), worked by hand."""
    return exponential_test(k, log_ratio=4.135422458494243)


PLUGIN = Method(
    name=NAME,
    title="Hvorslev, isolated interval",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Hvorslev (1951), case 8",
)
