"""Straight-line method for an interval that starts at an impermeable upper boundary."""

from __future__ import annotations

import dataclasses
import math

from geoprofile.hydraulics.shapes import interval_at_upper_boundary
from geoprofile.hydraulics.situation import (
    is_open_end,
    refuse_open_end,
    spans_aquifer,
    touches_upper_boundary,
)
from geoprofile.hydraulics.straight import Formula, straight_line
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "hvorslev-confining-layer"
WINDOW = (0.25, 0.15)  # [-] Butler (1998), from memory
BIAS_LN = 0.05  # [-] as for the interval in free ground
METHOD_SD_LN = 0.03  # [-]


def _log_ratio(test: HydraulicTest) -> float:
    refuse_open_end(test)
    length = test.interval_length_m
    factor = interval_at_upper_boundary(length, test.hole_radius_m, kv_kh=test.kv_kh)
    return 2.0 * math.pi * length / factor


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval starts at the upper boundary of a confined aquifer."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if not touches_upper_boundary(test):
        reason = "not at a known impermeable upper boundary (confined, aquifer_top_m)"
        return Applicability(False, 0.0, reason)
    if spans_aquifer(test):
        return Applicability(False, 0.0, "the interval opens the whole aquifer, flow is radial")
    return Applicability(True, 0.65, "the interval starts at an impermeable upper boundary")


def run(test: HydraulicTest) -> Conductivity:
    """K = rc^2 asinh(m L / rw) / (2 L T0).

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no line.

    References
    ----------
    Hvorslev (1951), case 7, from memory.
    """
    formula = Formula(NAME, _log_ratio(test), test.interval_length_m, WINDOW, METHOD_SD_LN, BIAS_LN)
    return straight_line(test, formula)


def example(k: float) -> HydraulicTest:
    """A clean falling head under an upper boundary; P = ln(x + sqrt(1 + x^2)), x = 3/0.048."""
    test = exponential_test(k, log_ratio=4.8284)
    return dataclasses.replace(test, confined=True, aquifer_top_m=test.top_m)


PLUGIN = Method(
    name=NAME,
    title="Hvorslev, interval under an impermeable upper boundary",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Hvorslev (1951), case 7",
)
