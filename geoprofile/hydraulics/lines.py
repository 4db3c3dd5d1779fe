"""A straight line through ln(H/H0) against time: the basic time lag and its spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.tests import Array

STRAIGHT = (0.95, 0.05)  # [-] window of a plot that is straight all along
BEND_LIMIT = 0.06  # [-] early over late slope less 1, above which the window of the method is used


@dataclass(frozen=True, eq=False)
class Line:
    """A fitted line ln(H/H0) = intercept - t / lag, its window and the readings in it.

    `lag_s` [s]; `factor` exp(intercept) [-], near 1 in a clean test; `se_ln_lag` [-]; `misfit` rms
    of the residual in units of H0 [-]; `bend` slope early over slope late less 1 [-].
    """

    lag_s: float
    factor: float
    se_ln_lag: float
    misfit: float
    bend: float
    window: tuple[float, float]
    used: NDArray[np.bool_]


def rows_in_window(normalised: Array, window: tuple[float, float]) -> NDArray[np.bool_]:
    """Readings from the first fall below the upper bound until the last stay above the lower.

    Parameters
    ----------
    normalised : Array, shape (n,) [-]
        H/H0 in the order of time.
    window : tuple of float [-]
        Upper and lower bound.

    Returns
    -------
    Array of bool, shape (n,) [-]
        One run of readings; a noisy reading does not open a hole in it.
    """
    upper, lower = window
    below_upper = normalised <= upper
    first = int(np.argmax(below_upper)) if below_upper.any() else normalised.size
    above_lower = np.flatnonzero(normalised >= lower)
    last = int(above_lower[-1]) if above_lower.size else -1
    rows = np.zeros(normalised.size, dtype=np.bool_)
    rows[first : last + 1] = True
    return rows & (normalised > 0)


def fit_line(
    treated: Treated,
    *,
    window: tuple[float, float],
    chosen: tuple[float, float] | None,
    where: str,
) -> Line:
    """Fit the line in the user's window, else everywhere if straight, else in the given window.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m].
    window : tuple of float [-]
        Upper and lower normalised head the method asks for when the plot is bent.
    chosen : tuple of float [-]
        The user's window, or None.
    where : str [-]
        Names the test in an error.

    Returns
    -------
    Line [-]
        With lag [s] and its spread [-].

    Raises
    ------
    DataError
        Fewer than three readings in the window, or a head that does not fall.
    """
    norm = treated.normalised
    floor = 4.0 * treated.noise_m / treated.initial_m
    wide = (STRAIGHT[0], max(STRAIGHT[1], floor))
    if chosen is not None:
        return _line(treated, norm, chosen, bend=_bend(treated, norm, wide), where=where)
    bend = _bend(treated, norm, wide)
    if not np.isfinite(bend) or abs(bend) <= BEND_LIMIT:
        return _line(treated, norm, wide, bend=bend, where=where)
    for lower in (window, (0.40, window[1]), (0.60, window[1])):
        if np.count_nonzero(rows_in_window(norm, lower)) >= 5:
            return _line(treated, norm, lower, bend=bend, where=where)
    return _line(treated, norm, wide, bend=bend, where=where)


def _slope(time: Array, norm: Array, weight: Array) -> tuple[float, float]:
    """Weighted slope and intercept of ln(norm) on time."""
    log = np.log(norm)
    total = weight.sum()
    mean_t, mean_y = (weight @ time) / total, (weight @ log) / total
    spread = weight @ (time - mean_t) ** 2
    if spread <= 0:
        return np.nan, np.nan
    slope = (weight @ ((time - mean_t) * (log - mean_y))) / spread
    return float(slope), float(mean_y - slope * mean_t)


def _weight(norm: Array, noise: float) -> Array:
    """Inverse variance of ln(norm); a floor of 0.5 % keeps early readings from ruling."""
    return np.asarray(1.0 / (0.005**2 + (noise / norm) ** 2))


def _bend(treated: Treated, norm: Array, wide: tuple[float, float]) -> float:
    """Slope in the upper half of the recovery over slope in the lower half, less 1."""
    middle = np.sqrt(wide[0] * max(wide[1], treated.lowest, 1e-6))
    slopes = []
    for part in ((wide[0], middle), (middle, wide[1])):
        rows = rows_in_window(norm, part)
        if np.count_nonzero(rows) < 4:
            return float("nan")
        noise = treated.noise_m / treated.initial_m
        slope, _ = _slope(treated.time_s[rows], norm[rows], _weight(norm[rows], noise))
        slopes.append(slope)
    return slopes[0] / slopes[1] - 1.0 if slopes[1] < 0 else float("nan")


def _line(
    treated: Treated, norm: Array, window: tuple[float, float], *, bend: float, where: str
) -> Line:
    """The weighted line in one window, with the spread of its slope."""
    rows = rows_in_window(norm, window)
    count = int(np.count_nonzero(rows))
    advice = "Widen the window, or log faster and longer."
    if count < 3:
        found = f"{count} readings between {window[0]:.2f} and {window[1]:.2f} of H0"
        raise DataError(where, found, "3 or more", advice)
    time, part = treated.time_s[rows], norm[rows]
    weight = _weight(part, treated.noise_m / treated.initial_m)
    slope, intercept = _slope(time, part, weight)
    if not slope < 0:
        raise DataError(where, "a head that does not fall back", "a recovery", advice)
    residual = np.log(part) - intercept - slope * time
    mean_t = (weight @ time) / weight.sum()
    scale = (weight @ residual**2) / max(count - 2, 1)
    widened = inflation(residual * np.sqrt(weight))
    se = np.sqrt(scale * widened / (weight @ (time - mean_t) ** 2)) / -slope
    misfit = float(np.sqrt(np.mean((part - np.exp(intercept + slope * time)) ** 2)))
    return Line(-1.0 / slope, float(np.exp(intercept)), float(se), misfit, bend, window, rows)


def inflation(residual: Array) -> float:
    """How much residuals that follow each other widen the variance of a slope.

    Parameters
    ----------
    residual : Array, shape (n,) [-]
        Weighted, in the order of time.

    Returns
    -------
    float [-]
        (1 + r)/(1 - r), r the correlation of neighbours; 1 when they do not follow each other.

    References
    ----------
    First-order autoregression; common practice, no source.
    """
    if residual.size < 6 or not np.any(residual):
        return 1.0
    first = float(np.clip((residual[1:] @ residual[:-1]) / (residual @ residual), 0.0, 0.95))
    return (1.0 + first) / (1.0 - first)
