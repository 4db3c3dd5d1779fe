"""Recovery curve of an interval that opens the whole thickness of a confined aquifer."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from geoprofile.hydraulics.recovery import radial_modes
from geoprofile.hydraulics.situation import spans_aquifer
from geoprofile.hydraulics.storage import CurveMethod, by_curve
from geoprofile.hydraulics.synthetic import exponential_test, radial_recovery
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "radial-storage"


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval opens the whole confined aquifer."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if not spans_aquifer(test):
        reason = "the interval is not known to open the whole of a confined aquifer"
        return Applicability(False, 0.0, reason)
    return Applicability(True, 0.90, "the interval opens the whole confined aquifer")


def run(test: HydraulicTest) -> Conductivity:
    """H(p)/H0 = 1/(p + 2 x K1(x)/K0(x)), x^2 = alpha p, T t/rc^2 = beta; T and S are fitted.

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no fit.

    References
    ----------
    Cooper, Bredehoeft and Papadopulos (1967), Water Resources Research 3(1), 263-269.
    """
    radius = test.effective_riser_radius_m or math.nan
    return by_curve(test, CurveMethod(NAME, radial_modes(), radius, uses_kv=False))


def example(k: float) -> HydraulicTest:
    """A clean falling head in a confined aquifer, Ss 2e-5 1/m."""
    test = exponential_test(k, log_ratio=5.0)
    riser, length = 0.025, test.interval_length_m
    alpha = test.hole_radius_m**2 * 2e-5 * length / riser**2
    head = radial_recovery(length * k * test.elapsed_s[1:] / riser**2, alpha)
    return dataclasses.replace(
        test,
        confined=True,
        aquifer_top_m=test.top_m,
        aquifer_base_m=test.bottom_m,
        displacement_m=0.8 * np.append(1.0, head),
    )


PLUGIN = Method(
    name=NAME,
    title="Cooper, Bredehoeft and Papadopulos, whole confined aquifer",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Cooper, Bredehoeft and Papadopulos (1967)",
)
