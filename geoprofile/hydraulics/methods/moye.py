"""Constant head: a cylinder of flow around the interval, a sphere beyond."""

from __future__ import annotations

import math

from geoprofile.errors import DataError
from geoprofile.hydraulics.situation import is_open_end
from geoprofile.hydraulics.steady import constant_head
from geoprofile.hydraulics.synthetic import pressure_step_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "moye"
BIAS_LN = 0.13  # [-] against potential theory at L/rw 20 to 200; own derivation

SHORTEST = 4.0  # [-] interval length over hole radius


def _log_ratio(test: HydraulicTest) -> float:
    return 1.0 + math.log(test.interval_length_m / (2.0 * test.hole_radius_m))


def applies(test: HydraulicTest) -> Applicability:
    """Whether the test was made at a constant head in an open interval."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for constant heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if test.interval_length_m < SHORTEST * test.hole_radius_m:
        return Applicability(False, 0.0, "the interval is shorter than four hole radii")
    return Applicability(True, 0.60, "an interval under a constant head")


def run(test: HydraulicTest) -> Conductivity:
    """K = Q (1 + ln(L/(2 rw))) / (2 pi L H).

    Raises
    ------
    DataError
        Bad input, no flow, a net head not above 0, or an interval too short.

    References
    ----------
    Moye (1967), from memory.
    """
    if test.interval_length_m < SHORTEST * test.hole_radius_m:
        raise DataError(
            test.where,
            f"an interval of {test.interval_length_m:.4g} m",
            f"{SHORTEST:g} hole radii or more",
            "Use the steady state of the ground, steady-anisotropic.",
        )
    return constant_head(test, NAME, _log_ratio(test), bias_ln=BIAS_LN)


def example(k: float) -> HydraulicTest:
    """Five pressure steps of laminar flow; P = 1 + ln(3 m / 0.096 m), worked by hand."""
    return pressure_step_test(k, log_ratio=4.4420)


PLUGIN = Method(
    name=NAME,
    title="Moye, constant head",
    kinds=("constant head",),
    applies=applies,
    run=run,
    example=example,
    source="Moye (1967)",
)
