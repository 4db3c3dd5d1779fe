"""K from a straight line and a log ratio: what every quasi-steady method shares."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.lines import Line, fit_line
from geoprofile.hydraulics.quality import Verdict, is_underdamped, judge_readings, worst
from geoprofile.hydraulics.readings import Treated, treat
from geoprofile.hydraulics.spread import bounds, geometry_parts, geometry_sd_ln_k, relative, total
from geoprofile.hydraulics.tests import Conductivity, Grade, HydraulicTest, Part
from geoprofile.hydraulics.validity import check_test

FACTOR_LOW, FACTOR_HIGH = 0.90, 1.10  # [-] intercept over H0; Butler (1998), from memory
POOR_SD_LN, USELESS_SD_LN = 0.35, 1.2  # [-] sd of ln K by the fit; common practice, no source
MISFIT_DOUBT = 0.05  # [-] rms of H/H0; common practice, no source


@dataclass(frozen=True)
class Formula:
    """What one straight-line method brings to K = rc^2 P / (2 L T0).

    `log_ratio` P [-] goes with `length_m` [m]; `window` of normalised head [-]; `method_sd_ln`
    sd of ln K of the method itself [-]; `bias_ln` its known ln(K/true K) [-].
    """

    name: str
    log_ratio: float
    length_m: float
    window: tuple[float, float]
    method_sd_ln: float
    bias_ln: float = 0.0
    notes: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    level_share: float = 1.0


def conductivity_from_lag(
    riser_radius: float, length: float, log_ratio: float, lag: float
) -> float:
    """K from the basic time lag.

    Parameters
    ----------
    riser_radius, length : float [m]
        Radius of the moving water surface and length of the interval.
    log_ratio : float [-]
        P.
    lag : float [s]
        Time to fall to 37 %.

    Returns
    -------
    float [m/s]
        K = rc^2 P / (2 L T0).

    References
    ----------
    Hvorslev (1951), from memory.

    Examples
    --------
    rc 0.0254 m, L 1.5 m, P 3.443, T0 100 s: K = 7.404e-6 m/s.
    """
    return riser_radius**2 * log_ratio / (2.0 * length * lag)


def straight_line(test: HydraulicTest, formula: Formula) -> Conductivity:
    """Fit the line and turn its lag into K with spread, grade and notes.

    Parameters
    ----------
    test : HydraulicTest [-]
        A falling or rising head test.
    formula : Formula [-]
        Log ratio, window and spread of the method.

    Returns
    -------
    Conductivity [-]
        K [m/s] and everything the figure needs.

    Raises
    ------
    DataError
        Bad input, an underdamped level, or no line.
    """
    check_test(test)
    treated = treat(test)
    refuse_oscillation(test, treated)
    line = fit_line(treated, window=formula.window, chosen=test.chosen_window, where=test.where)
    radius = test.effective_riser_radius_m or math.nan
    k = conductivity_from_lag(radius, formula.length_m, formula.log_ratio, line.lag_s)
    geometry = geometry_sd_ln_k(test, formula.log_ratio)
    parts = (
        relative("fit of the readings", line.se_ln_lag),
        *geometry_parts(test, formula.log_ratio),
        relative("formula of the method", formula.method_sd_ln),
        *formula.parts,
    )
    sd_ln = math.hypot(line.se_ln_lag, geometry, formula.method_sd_ln, total(formula.parts))
    low, high = bounds(k, sd_ln, bias_ln=formula.bias_ln)
    judged = judge_readings(test, treated, level_share=formula.level_share)
    fitted = _judge_line(treated, line, formula.level_share)
    return Conductivity(
        method=formula.name,
        k_m_per_s=k,
        sd_log10_k=math.hypot(sd_ln, formula.bias_ln) / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade=worst(judged.grade, fitted.grade),
        notes=(*judged.notes, *fitted.notes, *formula.notes),
        start_s=treated.start_s,
        window=line.window,
        initial_displacement_m=treated.sign * treated.initial_m,
        time_lag_s=line.lag_s,
        log_ratio=formula.log_ratio,
        readings_used=int(np.count_nonzero(line.used)),
        misfit=line.misfit,
        bias_ln=formula.bias_ln,
        parts=parts,
        radius_chance=treated.radius_chance,
        radius_ln_k=treated.radius_ln_k,
        time_s=treated.time_s,
        measured=treated.normalised,
        fitted=line.factor * np.exp(-treated.time_s / line.lag_s),
        used=line.used,
    )


def refuse_oscillation(test: HydraulicTest, treated: Treated) -> None:
    """Refuse a level that oscillates through static: inertia rules, not the ground alone.

    Parameters
    ----------
    test : HydraulicTest [-]
        Named in the error.
    treated : Treated [-]
        Readings [s], [m].

    Returns
    -------
    None [-]
        When the level does not oscillate.

    Raises
    ------
    DataError
        When it does.
    """
    if is_underdamped(treated):
        raise DataError(
            test.where,
            "a level that oscillates through the static level",
            "a recovery without overshoot",
            "Use the method for underdamped tests.",
        )


def _judge_line(treated: Treated, line: Line, level_share: float) -> Verdict:
    """Grade of the line itself."""
    grades: list[Grade] = ["accepted"]
    notes = []
    straight = math.isfinite(line.bend) and abs(line.bend) <= 0.06
    drained = level_share < 1.0 and 0.7 * level_share < line.factor < 1.4 * level_share
    if straight and not drained and not FACTOR_LOW <= line.factor <= FACTOR_HIGH:
        grades.append("qualified")
        notes.append(f"the line starts at {line.factor:.2f} of H0: late start or pack drainage")
    if line.misfit > MISFIT_DOUBT:
        grades.append("qualified")
        notes.append(f"readings lie {100 * line.misfit:.1f} % of H0 off the line")
    if np.count_nonzero(line.used) < 5:
        grades.append("qualified")
        notes.append(f"only {np.count_nonzero(line.used)} readings in the window")
    if math.isfinite(line.bend) and line.bend < -0.25:
        grades.append("qualified")
        notes.append("the plot bends down: slow start, inertia or trapped air")
    if math.isfinite(line.bend) and line.bend > 0.06:
        notes.append(f"the plot bends ({line.bend:+.0%}): storage in the ground, or pack drainage")
    if line.se_ln_lag > POOR_SD_LN:
        grades.append("rejected" if line.se_ln_lag > USELESS_SD_LN else "qualified")
        notes.append("the slope of the line is poorly known")
    return Verdict(worst(*grades), tuple(notes))
