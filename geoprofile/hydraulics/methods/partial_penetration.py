"""Recovery curve of an interval in layered-anisotropic ground with storage."""

from __future__ import annotations

import math

from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.situation import crosses_water_table, is_open_end, spans_aquifer
from geoprofile.hydraulics.storage import CurveMethod, by_curve
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.plugins import Method

NAME = "partial-penetration"


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval is open to the ground over some length."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if crosses_water_table(test):
        return Applicability(False, 0.0, "the static level lies within the interval")
    if spans_aquifer(test):
        return Applicability(True, 0.55, "the interval opens the whole aquifer, flow is radial")
    if test.confined is None and test.static_depth_m is None:
        return Applicability(True, 0.75, "depth below the water table unknown: taken as far")
    return Applicability(True, 0.80, "part of the ground is open, storage and Kv/Kh count")


def run(test: HydraulicTest) -> Conductivity:
    """H(p) = H0 G/(1 + p G), G of the interval in its layer; K and Ss fit the whole recovery.

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no fit.

    Notes
    -----
    A low-K skin cannot be told from low K where flow spreads in all directions: a skin of a fifth
    of K out to twice the hole radius gives 0.57 of K, without a sign of it in the readings. Develop
    the zone before the test.

    References
    ----------
    The problem of Hyder, Butler, McElwee and Liu (1994), Water Resources Research 30(11),
    2945-2957; own solution.
    """
    notes = () if test.confined is not None else ("taken as under a water table",)
    method = CurveMethod(
        NAME, modes_of(test), test.effective_riser_radius_m or math.nan, notes=notes
    )
    return by_curve(test, method)


def example(k: float) -> HydraulicTest:
    """A clean falling head 8 m under a water table, in ground that stores next to nothing.

    Notes
    -----
    Without storage the recovery is an exponential; its P is worked by hand as for
    `steady-anisotropic`.
    """
    return exponential_test(k, log_ratio=3.708)


PLUGIN = Method(
    name=NAME,
    title="Partial penetration with storage and anisotropy",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="The problem of Hyder et al. (1994), own solution",
)
