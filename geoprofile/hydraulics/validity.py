"""What a test must have before any K may be computed from it; every fault is told at once."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from geoprofile.errors import DataErrors, Problem
from geoprofile.hydraulics.tests import HydraulicTest

VARIABLE = ("falling head", "rising head", "pressure pulse")
FEWEST = 5  # readings


@lru_cache(maxsize=8)  # every method asks, one test after the other
def check_test(test: HydraulicTest) -> None:
    """Refuse a test whose geometry or readings cannot be right.

    Parameters
    ----------
    test : HydraulicTest [-]
        As recorded.

    Returns
    -------
    None [-]
        When nothing is wrong.

    Raises
    ------
    DataErrors
        With every fault: where, found, expected, advice.
    """
    problems = [*_geometry(test), *_depths(test)]
    problems += _readings(test) if test.kind in VARIABLE else _pressure_steps(test)
    if problems:
        raise DataErrors(problems)


def _problem(test: HydraulicTest, found: str, expected: str, advice: str) -> Problem:
    return Problem(test.where, found, expected, advice)


def _geometry(test: HydraulicTest) -> list[Problem]:
    """Radii, length and anisotropy."""
    faults = []
    if not (math.isfinite(test.hole_radius_m) and test.hole_radius_m > 0):
        found = f"hole radius {test.hole_radius_m:g} m"
        faults.append(_problem(test, found, "above 0", "Give the drilled diameter."))
    if not (math.isfinite(test.interval_length_m) and test.interval_length_m >= 0):
        found = f"interval length {test.interval_length_m:.4g} m"
        faults.append(_problem(test, found, "0 or more", "Correct top and bottom."))
    if not (math.isfinite(test.kv_kh) and 0 < test.kv_kh <= 100):
        found = f"kv_kh {test.kv_kh:g}"
        faults.append(_problem(test, found, "above 0, at most 100", "Give Kv over Kh."))
    if test.kind in ("falling head", "rising head"):
        faults += _riser(test)
    return faults


def _riser(test: HydraulicTest) -> list[Problem]:
    """The pipe in which the level moves."""
    radius = test.riser_radius_m
    if radius is None or not math.isfinite(radius) or radius <= 0:
        found = "no riser radius" if radius is None else f"riser radius {radius:g} m"
        advice = "Give the inner diameter of the pipe in which the level moves."
        return [_problem(test, found, "a radius above 0", advice)]
    if test.effective_riser_radius_m == 0:
        found = f"tubes that fill the riser of {2e3 * radius:g} mm"
        return [_problem(test, found, "room for water", "Check the tube diameters.")]
    widest = max(test.hole_radius_m, test.pack_radius_m or 0.0)
    if radius > widest * 1.02 and test.isolation in ("straddle", "below packer"):
        found = f"a riser of {2e3 * radius:g} mm in a hole of {2e3 * test.hole_radius_m:g} mm"
        return [_problem(test, found, "a riser no wider than the hole", "Check both diameters.")]
    return []


def _depths(test: HydraulicTest) -> list[Problem]:
    """Interval ends against each other, the static level and the base."""
    top, bottom, static = test.top_m, test.bottom_m, test.static_depth_m
    faults = []
    if top is not None and bottom is not None and bottom < top:
        found = f"bottom {bottom:g} m above top {top:g} m"
        faults.append(_problem(test, found, "bottom below top", "Swap or correct the depths."))
    dry = static is not None and bottom is not None and bottom <= static
    if dry and test.kind != "constant head":
        found = f"an interval that ends at {bottom:g} m, above the static level {static:g} m"
        advice = "Correct the depths or the static level; a dry interval needs an injection."
        faults.append(_problem(test, found, "an interval below the static level", advice))
    base = test.aquifer_base_m
    if base is not None and bottom is not None and bottom > base + 0.05 + test.hole_radius_m:
        found = f"an interval that ends at {bottom:g} m, below the base at {base:g} m"
        faults.append(_problem(test, found, "an interval above the base", "Correct the base."))
    return faults


def _readings(test: HydraulicTest) -> list[Problem]:
    """Number, finiteness, sign and life of the readings."""
    time, value = test.elapsed_s, test.displacement_m
    if time.size != value.size:
        found = f"{time.size} times and {value.size} displacements"
        return [_problem(test, found, "one displacement per time", "Load the readings again.")]
    good = np.isfinite(time) & np.isfinite(value)
    if np.count_nonzero(good) >= FEWEST and _began_early(time[good], value[good]):
        pass
    elif np.count_nonzero(good & (time >= 0)) < FEWEST:
        found = f"{np.count_nonzero(good & (time >= 0))} usable readings after the start"
        advice = "Load the full logger record, or exclude the test."
        return [_problem(test, found, f"{FEWEST} or more", advice)]
    time, value = time[good], value[good]
    if np.ptp(value) == 0:
        found = f"{value.size} readings that are all {value[0]:g} m"
        advice = "Check the sensor and its depth, or exclude the test."
        return [_problem(test, found, "readings that change", advice)]
    return [*_negative_times(test, time, value), *_sign(test, time, value)]


def _negative_times(test: HydraulicTest, time: np.ndarray, value: np.ndarray) -> list[Problem]:
    """Readings before 0 are a baseline: they must come first and lie near the static level."""
    early = time < 0
    if not early.any():
        return []
    largest = np.max(np.abs(value[~early]))
    leading = int(np.argmin(early)) if not early.all() else early.size
    ordered = leading == np.count_nonzero(early)
    if ordered and np.max(np.abs(value[early])) >= 0.5 * largest:
        return []  # the clock is off and the response began before its 0: see `readings`
    if not ordered or np.median(np.abs(value[early])) > 0.2 * largest:
        found = f"negative time {time[early][0]:g} s within the test"
        advice = (
            "Count seconds from the start; before 0 may lie a baseline near static, or the start "
            "of the response where the clock was off."
        )
        return [_problem(test, found, "0 s or more", advice)]
    return []


def _sign(test: HydraulicTest, time: np.ndarray, value: np.ndarray) -> list[Problem]:
    """A falling head starts above static, a rising head below."""
    if test.kind == "pressure pulse":
        return []
    after = value[time >= 0] if np.any(time < 0) and not _began_early(time, value) else value
    peak = after[np.argmax(np.abs(after))]
    start = np.median(after[: max(3, after.size // 50)])
    lead = start if abs(start) > 0.3 * abs(peak) else peak
    if (lead > 0) == (test.kind == "falling head"):
        return []
    found = f"displacement {lead:g} m at the start of a {test.kind} test"
    expected = "above 0 m" if test.kind == "falling head" else "below 0 m"
    advice = "Displacement is level minus static level: correct the sign or the kind of test."
    return [_problem(test, found, expected, advice)]


def _began_early(time: np.ndarray, value: np.ndarray) -> bool:
    """Whether the response began before second 0 of the clock."""
    early = time < 0
    if not early.any() or early.all():
        return bool(early.all())
    return bool(np.max(np.abs(value[early])) >= 0.5 * np.max(np.abs(value[~early])))


def _pressure_steps(test: HydraulicTest) -> list[Problem]:
    """A constant-head test needs pressure steps with flow and head."""
    if not test.pressure_steps:
        advice = "Add rows to the pressure step table: gauge pressure and flow of every step."
        return [_problem(test, "no pressure steps", "one pressure step or more", advice)]
    faults = []
    for step in test.pressure_steps:
        where = f"{test.where} pressure step {step.step}"
        if not (math.isfinite(step.flow_m3_per_s) and step.flow_m3_per_s >= 0):
            found = f"flow {6e4 * step.flow_m3_per_s:g} L/min"
            advice = "Correct the sign, or leave the pressure step out."
            faults.append(Problem(where, found, "0 or more", advice))
        if step.gauge_pressure_pa is None and step.net_head_m is None:
            advice = "Give the gauge pressure, or the head from a transducer in the zone."
            faults.append(Problem(where, "no pressure", "a pressure", advice))
    return faults
