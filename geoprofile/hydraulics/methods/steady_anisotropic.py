"""Constant head: the steady state of the ground that the depths describe."""

from __future__ import annotations

import math

from geoprofile.errors import DataError
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.recovery import steady_log_ratio
from geoprofile.hydraulics.situation import is_open_end
from geoprofile.hydraulics.steady import constant_head
from geoprofile.hydraulics.synthetic import pressure_step_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "steady-anisotropic"
BIAS_LN = 0.0  # [-] the steady state itself


def _log_ratio(test: HydraulicTest) -> float:
    return steady_log_ratio(modes_of(test))


def applies(test: HydraulicTest) -> Applicability:
    """Whether the test was made at a constant head in an open interval."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for constant heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if math.isnan(_log_ratio(test)):
        reason = "upper boundary and base are both near: the ground has no steady state"
        return Applicability(False, 0.0, reason)
    return Applicability(
        True, 0.70, "an interval under a constant head, boundaries and Kv/Kh count"
    )


def run(test: HydraulicTest) -> Conductivity:
    """K = Q P / (2 pi L H), P of the steady state with one head along the interval.

    Raises
    ------
    DataError
        Bad input, no flow, a net head not above 0, or ground without a steady state.

    References
    ----------
    Own solution of the steady state; some 2 % under ln(2 L/rw) - 1 far from all boundaries.
    """
    ratio = _log_ratio(test)
    if math.isnan(ratio):
        raise DataError(
            test.where,
            "an upper boundary and a base that are both near",
            "a boundary with a fixed head, or one far away",
            "Use another constant-head method.",
        )
    return constant_head(test, NAME, ratio, bias_ln=BIAS_LN)


def example(k: float) -> HydraulicTest:
    """Five pressure steps of laminar flow 8 m under a water table.

    Notes
    -----
    P worked by hand from a line source: x = 3/0.048, asinh(x) - sqrt(1 + 1/x^2) + 1/x = 3.844 is
    the mean head of even flow, 0.985 of it one head along the hole (finite volumes), and the mirror
    image in the water table, 2 x 9.5 m away, takes off 3 m / (2 x 19 m) = 0.079.
    """
    return pressure_step_test(k, log_ratio=3.708)


PLUGIN = Method(
    name=NAME,
    title="Steady state of the ground, constant head",
    kinds=("constant head",),
    applies=applies,
    run=run,
    example=example,
    source="Own derivation from potential theory",
)
