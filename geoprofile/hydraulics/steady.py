"""K of a constant-head test from its pressure steps and a log ratio: what its methods share."""

from __future__ import annotations

import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.injection import Steps, linear_and_square, steps_of, temperature_c
from geoprofile.hydraulics.losses import pipe_loss
from geoprofile.hydraulics.lugeon import (
    Pattern,
    lugeon_value,
    pattern_of,
    representative_steps,
)
from geoprofile.hydraulics.quality import Verdict, judge_leak, worst
from geoprofile.hydraulics.spread import bounds, geometry_parts, geometry_sd_ln_k, relative
from geoprofile.hydraulics.steadiness import Steadiness, steadiness_of
from geoprofile.hydraulics.step_leak import step_leak
from geoprofile.hydraulics.tests import Array, Conductivity, Grade, HydraulicTest, Pipe
from geoprofile.hydraulics.validity import check_test
from geoprofile.hydraulics.water import GRAVITY, density

METER_SD_LN = 0.05  # [-] gauge and flow meter; common practice, no source
FLOOR_M3_PER_S = 0.02 / 60_000  # [m3/s] offset of a meter that nobody tried; common practice
STEADY_SD_LN = 0.12  # [-] not quite steady, gauge and flow meter; common practice, no source
COVER_PA_PER_M = 22.6e3  # [Pa/m] net pressure per metre of cover (1 psi/ft); common practice
NARROW_M = 0.015  # [m] a pipe as narrow as any in use; common practice, no source
MEANING: dict[Pattern, str] = {
    "laminar": "pressure steps agree: laminar flow",
    "turbulent": "lowest take at the peak: turbulent loss, K from the line through H/Q",
    "dilation": "highest take at the peak: fractures opened, K from the low pressure steps",
    "wash-out": "take rises step by step: filling washed out, K from the last pressure step",
    "void filling": "take falls step by step: voids fill or clog, K from the last pressure step",
    "mixed": "pressure steps follow no pattern, K is their mean",
}
SAME_LEVEL = 0.8  # [-] of the head in the zone, outside it; common practice, no source


def constant_head(
    test: HydraulicTest,
    name: str,
    log_ratio: float,
    *,
    method_sd_ln: float = 0.0,
    bias_ln: float = 0.0,
    notes: tuple[str, ...] = (),
) -> Conductivity:
    """K = Q P / (2 pi L H) from the pressure steps that stand for the test.

    Parameters
    ----------
    test : HydraulicTest [-]
        A constant-head test.
    name : str [-]
        Of the method.
    log_ratio : float [-]
        P.
    method_sd_ln, bias_ln : float [-]
        Sd of ln K of the method and its known ln(K/true K).
    notes : tuple of str [-]
        To add.

    Returns
    -------
    Conductivity [-]
        K [m/s], Lugeon value [Lu]; flow and net head of the pressure steps for the figure.

    Raises
    ------
    DataError
        No pressure step took water, or a net head is not above 0.
    """
    check_test(test)
    steps = steps_of(test)
    if not np.any(steps.flow > 0):
        raise DataError(
            test.where,
            "no flow in any pressure step",
            "a flow above the floor of the meter",
            "Report K as below the range of the set-up, or test with a pulse.",
        )
    length = test.interval_length_m
    lugeon = lugeon_value(steps.flow, steps.head, length, temperature_c=temperature_c(test))
    chosen, pattern = _chosen(lugeon, steps.head)
    slope = _slope(steps, chosen, pattern)
    k = log_ratio / (2.0 * math.pi * length * slope)
    scatter = _scatter(lugeon[list(chosen)])
    geometry = geometry_sd_ln_k(test, log_ratio, uses_riser=False)
    steady = steadiness_of(test)
    steady_sd = STEADY_SD_LN if steady.worst is None else math.hypot(METER_SD_LN, steady.worst)
    meter = _meter_sd_ln(test, steps, chosen, slope)
    sd_ln = math.hypot(scatter, geometry, steady_sd, meter, method_sd_ln)
    low, high = bounds(k, sd_ln, bias_ln=bias_ln)
    verdict = _judge(test, steps, pattern, steady)
    a, b = _line(steps, slope, pattern)
    used = np.isin(np.arange(steps.flow.size), chosen)
    return Conductivity(
        method=name,
        k_m_per_s=k,
        sd_log10_k=math.hypot(sd_ln, bias_ln) / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade=verdict.grade,
        notes=(*verdict.notes, *notes, f"steady formula with P {log_ratio:.3f}"),
        log_ratio=log_ratio,
        lugeon=float(np.mean(lugeon[list(chosen)])),
        step_lugeon=lugeon,
        step_loss_m=steps.loss,
        pattern=pattern,
        readings_used=len(chosen),
        misfit=scatter,
        bias_ln=bias_ln,
        parts=(
            relative("scatter of the steps", scatter),
            relative("steadiness, gauge and meter", steady_sd),
            relative("offset of the flow meter", meter),
            *geometry_parts(test, log_ratio, uses_riser=False),
            relative("formula of the method", method_sd_ln),
        ),
        time_s=steps.flow,
        measured=steps.head,
        fitted=a * steps.flow + b * steps.flow**2,
        used=used,
    )


def _chosen(lugeon: Array, head: Array) -> tuple[tuple[int, ...], Pattern | None]:
    """Rows that stand for the test, and the pattern of three steps or more."""
    if lugeon.size >= 3 and np.all(lugeon > 0):
        pattern = pattern_of(lugeon, head)
        return representative_steps(pattern, head), pattern
    return tuple(int(i) for i in np.flatnonzero(lugeon > 0)), None


def _slope(steps: Steps, chosen: tuple[int, ...], pattern: Pattern | None) -> float:
    """H/Q of the laminar part [s/m2]."""
    if pattern == "turbulent":
        a, b = linear_and_square(steps.flow, steps.head)
        if a > 0 and b > 0:
            return a
    rows = list(chosen)
    return 1.0 / float(np.mean(steps.flow[rows] / steps.head[rows]))


def _meter_sd_ln(test: HydraulicTest, steps: Steps, chosen: tuple[int, ...], slope: float) -> float:
    """Sd of ln K by an offset of the flow meter, which the line of turbulence magnifies."""
    floor = FLOOR_M3_PER_S if test.meter_floor_m3_per_s is None else test.meter_floor_m3_per_s
    moved = Steps(steps.flow + floor, steps.head, steps.loss, steps.outside)
    rows = list(chosen)
    plain = float(np.mean(moved.flow[rows] / moved.head[rows]))
    if abs(slope * np.mean(steps.flow[rows] / steps.head[rows]) - 1.0) > 1e-9:
        a, _ = linear_and_square(moved.flow, moved.head)
        plain = 1.0 / a if a > 0 else 2.0 / slope
    return abs(math.log(plain * slope))


def _line(steps: Steps, slope: float, pattern: Pattern | None) -> tuple[float, float]:
    """A and B of the curve in the figure."""
    if pattern == "turbulent":
        a, b = linear_and_square(steps.flow, steps.head)
        if a > 0 and b > 0:
            return a, b
    return slope, 0.0


def _scatter(lugeon: Array) -> float:
    """Sd of ln of the mean of the chosen pressure steps."""
    if lugeon.size < 2:
        return 0.0
    return float(np.std(np.log(lugeon), ddof=1) / math.sqrt(lugeon.size))


def _judge(
    test: HydraulicTest, steps: Steps, pattern: Pattern | None, steady: Steadiness
) -> Verdict:
    """Grade of a test in pressure steps."""
    seen = np.isfinite(steps.outside)
    ratio = float(np.max(np.abs(steps.outside[seen]) / steps.head[seen])) if seen.any() else None
    # Where water can be balanced it counts, not pressure: judged with the test. A level that goes
    # with the head in the zone tells of no balance, however the sums come out.
    balanced = step_leak(test).balanced and (ratio or 0.0) < SAME_LEVEL
    leak = judge_leak(None if balanced else ratio)
    grades: list[Grade] = [leak.grade]
    notes = [*leak.notes, *steady.notes]
    if steady.notes:
        grades.append("qualified")
    floor = test.meter_floor_m3_per_s
    if floor and float(np.min(steps.flow)) < 2.0 * floor:
        grades.append("qualified")
        notes.append("the least flow is under twice what the meter shows in blank casing")
    if pattern is not None:
        notes.append(f"pattern {pattern}: {MEANING[pattern]}")
        if pattern not in ("laminar", "turbulent"):
            grades.append("qualified")
    elif steps.flow.size < 3:
        grades.append("qualified")
        notes.append(f"{steps.flow.size} pressure step(s): that flow grows with head is not shown")
    for words in (_cover(test, steps), _loss(steps, test)):
        if words:
            grades.append("qualified")
            notes.append(words)
    return Verdict(worst(*grades), tuple(notes))


def _cover(test: HydraulicTest, steps: Steps) -> str:
    """Net pressure against the weight of the ground above."""
    if test.top_m is None or test.top_m <= 0:
        return ""
    pressure = float(np.max(steps.head)) * density(temperature_c(test)) * GRAVITY
    if pressure <= COVER_PA_PER_M * test.top_m:
        return ""
    return (
        f"net pressure {pressure / 1e3:.0f} kPa is above 22.6 kPa per metre of cover: fractures "
        "may have opened; stay below the limit set for the ground"
    )


def _loss(steps: Steps, test: HydraulicTest) -> str:
    """A loss as large as the net head makes K hang on the pipe."""
    share = float(np.max(steps.loss / (steps.head + steps.loss)))
    if share > 0.5:
        return f"the pipe takes {100 * share:.0f} % of the head: use a transducer in the zone"
    gauged = any(step.net_head_m is None for step in test.pressure_steps)
    if test.pipe is not None or not gauged:
        return ""
    narrow = Pipe(length_m=test.bottom_m or 30.0, inner_diameter_m=NARROW_M)
    lost = max(pipe_loss(float(q), narrow) for q in steps.flow)
    if lost < 0.02 * float(np.min(steps.head)):
        return ""
    return "no pipe is given: its loss was not taken off, K may be too low"
