"""Fall of the head after an injection was stopped: a second K from the same set-up."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.injection import recovery_after_injection
from geoprofile.hydraulics.situation import is_open_end, spans_aquifer
from geoprofile.hydraulics.spread import bounds, geometry_parts, relative, total
from geoprofile.hydraulics.synthetic import pressure_step_test
from geoprofile.hydraulics.tests import Applicability, Array, Conductivity, HydraulicTest
from geoprofile.hydraulics.validity import check_test
from geoprofile.plugins import Method

NAME = "injection-recovery"
FEWEST = 6  # readings after the stop
LATE = 0.3  # [-] readings after that share of the record, in ln of time, make the line
NOT_RADIAL_SD_LN = 0.30  # [-] of ln K where the interval opens part of the ground; own judgement
FLOW_SD_LN = 0.05  # [-] of the rate before the stop; common practice, no source


def applies(test: HydraulicTest) -> Applicability:
    """Whether heads were read after the flow was stopped."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for constant heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if np.count_nonzero(test.elapsed_s > 0) < FEWEST:
        return Applicability(False, 0.0, "no readings of the head after the flow was stopped")
    if any(s.minutes is None for s in test.pressure_steps):
        return Applicability(False, 0.0, "the minutes of the steps are not told")
    score = 0.65 if spans_aquifer(test) else 0.35
    return Applicability(True, score, "the fall of head after the stop was read")


def _injected(test: HydraulicTest) -> tuple[float, float]:
    """Last rate [m3/s] and the time that gives the whole volume at that rate [s]."""
    volume = sum(s.flow_m3_per_s * 60.0 * (s.minutes or 0.0) for s in test.pressure_steps)
    last = test.pressure_steps[-1].flow_m3_per_s
    if last <= 0 or volume <= 0:
        raise DataError(
            test.where,
            "no flow in the last step",
            "a flow above 0 before the stop",
            "Use the steps themselves.",
        )
    return last, volume / last


def run(test: HydraulicTest) -> Conductivity:
    """K = Q / (4 pi L slope), head against ln((tp + t)/t), tp the volume over the last rate.

    Raises
    ------
    DataError
        Bad input, too few readings, no flow, or a head that does not fall.

    References
    ----------
    Theis (1935), Horner (1951), from memory; radial flow.
    """
    check_test(test)
    rate, duration = _injected(test)
    time, head = _late(test)
    try:
        k, sd = recovery_after_injection(
            time, head, flow=rate, duration=duration, length=test.interval_length_m
        )
    except ValueError as fault:
        raise DataError(
            test.where, str(fault), "a head that falls after the stop", "Check the readings."
        ) from fault
    parts = (
        relative("fit of the recovery", sd),
        relative("flow before the stop", FLOW_SD_LN),
        *geometry_parts(test, 1e6, uses_riser=False),
        relative("flow that is not radial", 0.0 if spans_aquifer(test) else NOT_RADIAL_SD_LN),
    )
    low, high = bounds(k, total(parts))
    return Conductivity(
        method=NAME,
        k_m_per_s=k,
        sd_log10_k=total(parts) / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade="accepted" if sd < 0.15 else "qualified",
        notes=(f"fall of head after the stop, {time.size} late readings; a skin does not count",),
        log_ratio=1e6,
        readings_used=int(time.size),
        parts=parts,
        vertical_share=0.0,
    )


def _late(test: HydraulicTest) -> tuple[Array, Array]:
    """Late readings of the residual head, which is above 0."""
    good = (test.elapsed_s > 0) & np.isfinite(test.displacement_m)
    time, head = test.elapsed_s[good], np.abs(test.displacement_m[good])
    if time.size < FEWEST:
        found = f"{time.size} readings after the stop"
        raise DataError(test.where, found, f"{FEWEST} or more", "Log the fall of head.")
    edge = math.exp(math.log(time[0]) + (1.0 - LATE) * math.log(time[-1] / time[0]))
    late = time >= min(edge, np.sort(time)[-FEWEST])
    return time[late], head[late]


def example(k: float) -> HydraulicTest:
    """A recovery along an exact straight line after ten minutes at one rate."""
    base = pressure_step_test(k, log_ratio=4.0)
    step = base.pressure_steps[0]
    time = np.geomspace(5.0, 3600.0, 40)
    slope = step.flow_m3_per_s / (4.0 * math.pi * base.interval_length_m * k)
    return dataclasses.replace(
        base,
        pressure_steps=(step,),
        aquifer_top_m=base.top_m,
        aquifer_base_m=base.bottom_m,
        confined=True,
        elapsed_s=time,
        displacement_m=slope * np.log((600.0 + time) / time),
    )


PLUGIN = Method(
    name=NAME,
    title="Recovery after injection",
    kinds=("constant head",),
    applies=applies,
    run=run,
    example=example,
    source="Theis (1935), Horner (1951)",
)
