"""Underdamped level in a permeable interval: K from the damping of the water column."""

from __future__ import annotations

import cmath
import dataclasses
import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.oscillation import (
    Oscillation,
    fit_oscillation,
    friction_damping,
    oscillation,
)
from geoprofile.hydraulics.quality import Verdict, is_underdamped, judge_readings, worst
from geoprofile.hydraulics.readings import Treated, treat
from geoprofile.hydraulics.recovery import log_ratio_transform, steady_log_ratio
from geoprofile.hydraulics.situation import crosses_water_table, is_open_end
from geoprofile.hydraulics.spread import bounds, geometry_parts, geometry_sd_ln_k, relative
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import Applicability, Conductivity, Grade, HydraulicTest
from geoprofile.hydraulics.validity import check_test
from geoprofile.hydraulics.water import GRAVITY
from geoprofile.plugins import Method

NAME = "underdamped"
SAFE_DAMPING = 5.0  # [-] CD above which inertia may be left out; common practice, no source
EARLY_STEPS = 2.0  # [-] readings by which the start may lie before the release
FAR_H0_LN = 0.35  # [-] of ln(H0 fitted / H0 read or meant); common practice, no source
WIDEST_DECADES = 0.5  # [-] sd of log10 K of an oscillation; common practice, no source
COLUMN_TOLERANCE = 0.20  # [-] fitted against known column; common practice, no source
STORAGES = (1e-6, 1e-5, 1e-4)  # [1/m] low, middle and high; common practice, no source
FIRST_LOG_RATIO = 4.0  # [-] first guess in a layer that has no steady state
LONGEST_M = 500.0  # [m] water column of an example
BIAS_LN = 0.02  # [-] one pole for the whole oscillation; against finite volumes
METHOD_SD_LN = 0.05  # [-] linear damping in place of a moving column; own judgement


def column_m(test: HydraulicTest) -> float | None:
    """Effective water column from the geometry: column above the interval and a share in it.

    Parameters
    ----------
    test : HydraulicTest [-]
        `water_column_m`, or depths and static level [m].

    Returns
    -------
    float [m]
        None when not known.

    References
    ----------
    Kipp (1985), from memory: static column plus (L/2) (rc/rw)^2.
    """
    column = test.water_column_m
    if column is None and test.top_m is not None and test.static_depth_m is not None:
        column = test.top_m - test.static_depth_m
    radius = test.effective_riser_radius_m
    if column is None or column <= 0 or not radius:
        return None
    return column + 0.5 * test.interval_length_m * (radius / test.hole_radius_m) ** 2


def applies(test: HydraulicTest) -> Applicability:
    """Whether the level oscillates, or recovers so fast that inertia counts."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for falling and rising heads, not {test.kind}")
    if is_open_end(test) or crosses_water_table(test):
        return Applicability(False, 0.0, "the interval is an open end or crosses the water table")
    try:
        treated = treat(test)
    except DataError as fault:
        return Applicability(False, 0.0, f"found {fault.problem.found}")
    if is_underdamped(treated):
        return Applicability(True, 0.95, "the level oscillates through the static level")
    column = column_m(test)
    if column is None:
        return Applicability(False, 0.0, "the level does not oscillate")
    damping = treated.lag_s * math.sqrt(GRAVITY / column)
    if damping < SAFE_DAMPING:
        return Applicability(True, 0.85, f"recovery in {treated.lag_s:.2g} s: inertia counts")
    return Applicability(False, 0.0, f"the level does not oscillate, damping is {damping:.2g}")


def run(test: HydraulicTest) -> Conductivity:
    """K = M rc^2 P / (2 L CD), with rate M and damping CD fitted, pipe friction taken off.

    Raises
    ------
    DataError
        Bad input, too few readings, or friction that explains all the damping.

    Notes
    -----
    Without storage the formula is K = M rc^2 P / (2 L CD). Here K is chosen so that column, pipe
    friction and ground with specific storage 1e-5 1/m have their pole where the fit found it; 1e-6
    and 1e-4 give the spread that storage brings.

    References
    ----------
    Springer and Gelhar (1991); Butler (1998); Butler and Garnett (2000); forms derived here.
    """
    check_test(test)
    treated = treat(test)
    fit = fit_oscillation(treated, where=test.where)
    _refuse_forced(test, treated, fit)
    if fit.damping > 4.0 * SAFE_DAMPING:
        raise DataError(
            test.where,
            f"a recovery with damping {fit.damping:.3g}, in which inertia does not show",
            f"damping below {4.0 * SAFE_DAMPING:g}",
            "Use a method without inertia.",
        )
    radius = test.effective_riser_radius_m or math.nan
    warm = 10.0 if test.water_temperature_c is None else test.water_temperature_c
    known = column_m(test)
    column = fit.column_m if known is None else known
    friction = friction_damping(column, radius, fit.rate_per_s, temperature_c=warm)
    ground = fit.damping - friction
    if ground <= 0.1 * fit.damping:
        raise DataError(
            test.where,
            f"damping {fit.damping:.3g}, of which pipe friction explains {friction:.3g}",
            "damping by the ground",
            "Use a wider pipe: K of this interval is beyond its reach.",
        )
    return _record(test, treated, fit, ground, friction)


def _refuse_forced(test: HydraulicTest, treated: Treated, fit: Oscillation) -> None:
    """Refuse a fit that bends start, H0 or spread to call a plain recovery an oscillation."""
    step = float(np.median(np.diff(treated.time_s[: max(3, treated.time_s.size // 4)])))
    meant = test.expected_displacement_m
    known = [treated.initial_m] if meant is None else [treated.initial_m, abs(meant)]
    far = [abs(math.log(max(fit.factor * treated.initial_m, 1e-9) / h)) for h in known]
    faults = []
    if fit.shift_s < -EARLY_STEPS * step:
        faults.append(f"a start {-fit.shift_s:.3g} s before the release")
    if min(far) > FAR_H0_LN:
        faults.append(f"an H0 {fit.factor:.2f} times the one read")
    if fit.se_ln_k / math.log(10.0) > WIDEST_DECADES:
        faults.append(f"a spread of {min(fit.se_ln_k / math.log(10.0), 99.0):.1f} decades")
    if faults:
        raise DataError(
            test.where,
            f"an oscillation that fits only with {' and '.join(faults)}",
            "a start at the release, the H0 that was read or meant, and a known damping",
            "Use a method for recoveries, or log faster.",
        )


def _damper(
    test: HydraulicTest, fit: Oscillation, friction_s: float, storage: float
) -> tuple[float, float]:
    """K [m/s] and P [-] that put a pole where the fit found it, with storage in the ground."""
    modes, radius = modes_of(test), test.effective_riser_radius_m or math.nan
    alpha = test.hole_radius_m**2 * storage * test.interval_length_m / radius**2
    half = 0.5 * fit.damping
    steady = steady_log_ratio(modes)
    p = complex(FIRST_LOG_RATIO if math.isnan(steady) else steady)
    first = (fit.damping / fit.rate_per_s - friction_s) / p.real  # rc^2 / (2 L K)
    lag = first
    for _ in range(12 if storage > 0 else 0):
        if half < 1.0:
            pole = fit.rate_per_s * complex(-half, math.sqrt(1.0 - half * half))
            p = complex(log_ratio_transform(np.array([pole * lag]), alpha, modes)[0])
            turned = pole * p
            # real and imaginary part of pole^2 / M^2 + pole (lag P + friction) + 1 = 0
            both = np.array([[(pole**2).real, turned.real], [(pole**2).imag, turned.imag]])
            right = np.array([-1.0 - friction_s * pole.real, -friction_s * pole.imag])
            lag = float(np.linalg.solve(both, right)[1])
        else:
            slow = fit.rate_per_s / (half + math.sqrt(max(half * half - 1.0, 0.0)))
            p = complex(log_ratio_transform(np.array([slow * lag + 0j]), alpha, modes)[0])
            lag = (fit.damping / fit.rate_per_s - friction_s) / p.real
        if not lag > 0:  # no ground with that much storage has such a pole
            lag, p = first, complex(p.real)
            break
    return radius**2 / (2.0 * test.interval_length_m * lag), p.real


def _record(
    test: HydraulicTest, treated: Treated, fit: Oscillation, damping: float, friction: float
) -> Conductivity:
    """K with spread, grade and curve."""
    radius = test.effective_riser_radius_m or math.nan
    friction_s = friction / fit.rate_per_s
    low_k, k, high_k = (_damper(test, fit, friction_s, storage)[0] for storage in STORAGES)
    p = 2.0 * test.interval_length_m * k * (damping / fit.rate_per_s) / radius**2
    storage_sd = abs(math.log(low_k / high_k)) / 2.0
    column_sd = 0.3 * friction / damping  # friction known to 30 %
    geometry = geometry_sd_ln_k(test, p)
    sd_ln = math.hypot(fit.se_ln_k, geometry, storage_sd, column_sd, METHOD_SD_LN)
    low, high = bounds(k, sd_ln, bias_ln=BIAS_LN)
    judged, fitted = judge_readings(test, treated), _judge(test, treated, fit)
    notes = (f"damping {fit.damping:.3g}, pipe friction {friction:.2g} of it",)
    return Conductivity(
        method=NAME,
        k_m_per_s=k,
        sd_log10_k=math.hypot(sd_ln, BIAS_LN) / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade=worst(judged.grade, fitted.grade),
        notes=(*judged.notes, *fitted.notes, *notes),
        start_s=treated.start_s + fit.shift_s,
        initial_displacement_m=treated.sign * treated.initial_m * fit.factor,
        time_lag_s=damping / fit.rate_per_s,
        log_ratio=p,
        damping=fit.damping,
        readings_used=int(treated.time_s.size),
        misfit=fit.misfit,
        bias_ln=BIAS_LN,
        radius_chance=treated.radius_chance,
        radius_ln_k=treated.radius_ln_k,
        parts=(
            relative("fit of the readings", fit.se_ln_k),
            *geometry_parts(test, p),
            relative("storage of the ground", storage_sd),
            relative("friction in the pipe", column_sd),
            relative("formula of the method", METHOD_SD_LN),
        ),
        time_s=treated.time_s,
        measured=treated.normalised,
        fitted=fit.fitted,
        used=np.ones(treated.time_s.size, dtype=np.bool_),
    )


def _judge(test: HydraulicTest, treated: Treated, fit: Oscillation) -> Verdict:
    """Grade of the oscillation itself."""
    grades: list[Grade] = ["accepted"]
    notes = []
    column = column_m(test)
    oscillations = fit.damping < 2.0  # above, the readings say little about the column
    if oscillations and column is not None and abs(fit.column_m / column - 1.0) > COLUMN_TOLERANCE:
        grades.append("qualified")
        notes.append(
            f"the response fits a column of {fit.column_m:.1f} m, the set-up has {column:.1f} m: "
            "wrong start or a response that is not linear"
        )
    if fit.misfit > 0.05:
        grades.append("qualified")
        notes.append(f"readings lie {100 * fit.misfit:.1f} % of H0 off the curve")
    if oscillations:
        period = 2.0 * math.pi / fit.rate_per_s / math.sqrt(1.0 - 0.25 * fit.damping**2)
        if np.median(np.diff(treated.time_s)) > period / 10.0:
            grades.append("qualified")
            notes.append(f"fewer than ten readings in one oscillation of {period:.1f} s")
    return Verdict(worst(*grades), tuple(notes))


def example(k: float) -> HydraulicTest:
    """A clean oscillation: the column is chosen so that the level oscillates at that K.

    Raises
    ------
    DataError
        A column of over 500 m would be needed.

    Notes
    -----
    The ground answers as a sphere does: 1/P grows by 1 + a sqrt(p Ss/K), a = L/(2 P), which is
    exact for slow changes; P 3.708 as worked by hand for `steady-anisotropic`, Ss 1e-5 1/m. The
    level then moves as the root p of p^2/w^2 + p (friction + lag P(p)) + 1 = 0, w^2 = g / column,
    with the friction of laminar flow, 8 nu column / (g rc^2), nu 1.307e-6 m2/s at 10 C.
    """
    base = exponential_test(k, log_ratio=4.0)
    radius, length, steady = 0.025, base.interval_length_m, 3.708
    lag = radius**2 / (2.0 * length * k)
    free = 0.55 / (lag * steady)  # [1/s] w, so that the ground damps by a little over 0.5
    column = GRAVITY / free**2
    if column > LONGEST_M:
        raise DataError(
            "example of underdamped",
            f"K {k:g} m/s, which needs a water column of {column:.0f} m",
            f"at most {LONGEST_M:g} m",
            "Use another method.",
        )
    friction_s = 8.0 * 1.307e-6 * column / (GRAVITY * radius**2)
    root, reach = free * complex(-0.3, 0.95), 0.5 * length / steady
    for _ in range(60):
        ratio = steady / (1.0 + reach * cmath.sqrt(root * STORAGES[1] / k))
        loss = friction_s + lag * ratio
        root = free * (-0.5 * free * loss + cmath.sqrt((0.5 * free * loss) ** 2 - 1.0))
    rate, damping = abs(root), -2.0 * root.real / abs(root)
    time = np.linspace(0.0, 20.0 / rate, 300)
    head = 0.8 * oscillation(time * rate, damping)
    return dataclasses.replace(base, elapsed_s=time, displacement_m=head, water_column_m=column)


PLUGIN = Method(
    name=NAME,
    title="Underdamped level, damped water column",
    kinds=("falling head", "rising head"),
    applies=applies,
    run=run,
    example=example,
    source="Springer and Gelhar (1991), Butler (1998), Butler and Garnett (2000)",
)
