"""K and Ss of a test by a recovery curve: what every method with storage shares."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.curve_table import Table, tabulate
from geoprofile.hydraulics.curves import CurveFit, Well, curve_splines, fit_curve
from geoprofile.hydraulics.quality import Verdict, judge_readings, worst
from geoprofile.hydraulics.readings import Treated, treat
from geoprofile.hydraulics.recovery import Modes
from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.shifts import LESS, STORAGE_RULES, shifts, vertical_share
from geoprofile.hydraulics.situation import refuse_open_end
from geoprofile.hydraulics.spread import bounds, geometry_parts, geometry_sd_ln_k, relative
from geoprofile.hydraulics.straight import (
    MISFIT_DOUBT,
    POOR_SD_LN,
    USELESS_SD_LN,
    refuse_oscillation,
)
from geoprofile.hydraulics.tests import Array, Conductivity, Grade, HydraulicTest
from geoprofile.hydraulics.validity import check_test

SS_LOW, SS_HIGH = 1e-7, 1e-3  # [1/m] plausible specific storage; common practice, no source
WANDER = 0.008  # [-] misfit over H0 beyond noise; common practice, no source
REST_DOUBT = 0.02  # [-] fitted static level over H0; common practice, no source
METHOD_SD_LN = 0.02  # [-] thickness cut off, head along the interval; own computation


@dataclass(frozen=True, eq=False)
class CurveMethod:
    """What one method with storage brings: its name, geometry and moving surface.

    `surface_radius_m` [m] is the riser radius or, shut in, the equivalent one; `surface_sd_ln`
    sd of ln K that the surface brings beyond radii and length [-].
    """

    name: str
    modes: Modes
    surface_radius_m: float
    uses_riser: bool = True
    uses_kv: bool = True
    surface_sd_ln: float = 0.0
    notes: tuple[str, ...] = ()


def by_curve(test: HydraulicTest, method: CurveMethod) -> Conductivity:
    """Fit the recovery curve and judge it.

    Parameters
    ----------
    test : HydraulicTest [-]
        A falling, rising or pulse test.
    method : CurveMethod [-]
        Geometry and moving surface.

    Returns
    -------
    Conductivity [-]
        K [m/s], Ss [1/m] and everything the figure needs.

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no fit.
    """
    check_test(test)
    treated = treat(test)
    refuse_oscillation(test, treated)
    refuse_open_end(test)
    table = tabulate(method.modes)
    well = Well(method.surface_radius_m, test.hole_radius_m, test.interval_length_m)
    guess = well.surface_radius_m**2 * 3.0 / (2.0 * well.length_m * treated.lag_s)
    part = _within(treated, test.chosen_window)
    if part.time_s.size < 5:
        raise DataError(
            test.where,
            f"{part.time_s.size} readings in the window",
            "5 or more",
            "Widen the window.",
        )
    fit = fit_curve(part, well, table, ln_k_start=math.log(guess))
    return _record(test, method, treated, part, fit, well, table)


def _within(treated: Treated, window: tuple[float, float] | None) -> Treated:
    """The readings inside the user's window of normalised head."""
    if window is None:
        return treated
    from geoprofile.hydraulics.lines import rows_in_window

    rows = rows_in_window(treated.normalised, window)
    return replace(treated, time_s=treated.time_s[rows], head_m=treated.head_m[rows])


def _record(
    test: HydraulicTest,
    method: CurveMethod,
    treated: Treated,
    part: Treated,
    fit: CurveFit,
    well: Well,
    table: Table,
) -> Conductivity:
    """Spread, grade, notes and curves of a fit."""
    k, storage = math.exp(fit.ln_k), math.exp(fit.ln_storage)
    lag = treated.lag_s
    p = 2.0 * well.length_m * k * lag / well.surface_radius_m**2  # P in effect during the test
    geometry = geometry_sd_ln_k(
        test, max(p, 1.2), uses_riser=method.uses_riser, uses_kv=method.uses_kv
    )
    fit_sd = math.sqrt(float(fit.covariance[0, 0]))
    parts = [
        relative("fit of the readings", fit_sd),
        *geometry_parts(test, max(p, 1.2), uses_riser=method.uses_riser),
        relative("formula of the method", METHOD_SD_LN),
    ]
    if method.surface_sd_ln:
        parts.append(relative("compressibility of the system", method.surface_sd_ln))
    added, ln_k, evidence = shifts(part, well, table, fit, p)
    share = _vertical(test, method, part, well, fit, p)
    sd_ln = math.hypot(fit_sd, geometry, METHOD_SD_LN, method.surface_sd_ln)
    low, high = bounds(k, sd_ln)
    judged, fitted = judge_readings(test, treated), _judge_fit(fit, fit_sd, treated)
    return Conductivity(
        method=method.name,
        k_m_per_s=k,
        sd_log10_k=sd_ln / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade=worst(judged.grade, fitted.grade),
        notes=(*judged.notes, *fitted.notes, *method.notes),
        specific_storage_per_m=storage,
        start_s=treated.start_s,
        window=test.chosen_window,
        initial_displacement_m=treated.sign * treated.initial_m,
        time_lag_s=lag,
        log_ratio=p,
        readings_used=int(part.time_s.size),
        misfit=fit.misfit,
        parts=tuple(parts),
        shift=added,
        shift_ln_k=ln_k,
        shift_evidence=evidence,
        vertical_share=share,
        radius_chance=treated.radius_chance,
        radius_ln_k=treated.radius_ln_k,
        time_s=treated.time_s,
        measured=treated.normalised,
        fitted=_curve(treated.time_s, fit, well, table),
        used=np.isin(treated.time_s, part.time_s),
    )


def _vertical(
    test: HydraulicTest, method: CurveMethod, part: Treated, well: Well, fit: CurveFit, p: float
) -> float:
    """Share of a change of Kv/Kh that shows in K."""
    if not method.uses_kv:
        return 0.0
    length = max(test.interval_length_m, 2.0 * test.hole_radius_m)
    steady = log_ratio_mean_head(length, test.hole_radius_m, kv_kh=test.kv_kh)
    if p > STORAGE_RULES * steady:
        return 1.0
    lower = replace(test, kv_kh=test.kv_kh / LESS)
    drop = log_ratio_mean_head(length, test.hole_radius_m, kv_kh=lower.kv_kh) - steady
    return vertical_share(part, well, tabulate(modes_of(lower)), fit, drop, p)


def _curve(time: Array, fit: CurveFit, well: Well, table: Table) -> Array:
    """The fitted curve at every reading, 1 at the start."""
    out = np.full(time.size, fit.factor + fit.rest)
    later = time > 0
    tau = time[later] * well.tau_per_second(fit.ln_k)
    alpha = np.array([well.alpha(fit.ln_storage)])
    curves = curve_splines(table, alpha, tau[0] * 0.9, tau[-1] * 1.1)
    out[later] = fit.factor * curves.at(np.log(tau))[0][0] + fit.rest
    return out


def _judge_fit(fit: CurveFit, fit_sd: float, treated: Treated) -> Verdict:
    """Grade of the curve itself."""
    grades: list[Grade] = ["accepted"]
    notes = []
    storage = math.exp(fit.ln_storage)
    if fit.misfit > MISFIT_DOUBT:
        grades.append("qualified")
        notes.append(f"readings lie {100 * fit.misfit:.1f} % of H0 off the curve")
    elif fit.misfit > WANDER + 2.5 * treated.noise_m / treated.initial_m:
        grades.append("qualified")
        notes.append(f"the level wanders by {100 * fit.misfit:.1f} % of H0 around the curve")
    if abs(fit.rest) > REST_DOUBT:
        grades.append("qualified")
        notes.append(f"the curve ends {fit.rest:+.1%} of H0 off the static level given")
    if fit.prior_share > 0.5:
        notes.append("the readings say little about storage")
    elif not SS_LOW <= storage <= SS_HIGH:
        grades.append("qualified")
        side = "low-K skin" if storage < SS_LOW else "high-K pack or zone around the hole"
        notes.append(f"specific storage {storage:.1e} 1/m is not plausible: a {side} may rule")
    if fit_sd > POOR_SD_LN:
        grades.append("rejected" if fit_sd > USELESS_SD_LN else "qualified")
        notes.append("K and storage cannot be told apart in these readings")
    return Verdict(worst(*grades), tuple(notes))
