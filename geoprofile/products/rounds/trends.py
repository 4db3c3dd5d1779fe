"""Whether a series of results rises or falls: Mann-Kendall test and Sen's slope."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]
MOST_EXACT = 10  # results without ties up to which the test is exact (Gilbert 1987, table A18)


@dataclass(frozen=True)
class Trend:
    """S of the test, its two-sided p, and the slope [unit/time] with its interval, or None."""

    s: int
    p: float
    slope: float | None
    slope_low: float | None
    slope_high: float | None


def mann_kendall(values: Array) -> tuple[int, float]:
    """S and two-sided p of a series in order of time, ties among the values corrected for.

    Parameters
    ----------
    values : Array, shape (n,)
        n >= 2, in any unit.

    Returns
    -------
    tuple of int and float [-]
        S = rises less falls over all pairs; p exact up to 10 results without ties, else from the
        normal with a continuity correction.

    References
    ----------
    Mann (1945), Econometrica 13, 245; Kendall (1975), Rank Correlation Methods; Gilbert (1987),
    Statistical Methods for Environmental Pollution Monitoring, ch. 16 (from memory).

    Examples
    --------
    >>> mann_kendall(np.array([1.0, 2.0, 3.0, 4.0]))
    (6, 0.08333333333333333)
    """
    count = len(values)
    first, second = np.triu_indices(count, k=1)
    s = int(np.sign(values[second] - values[first]).sum())
    _, ties = np.unique(values, return_counts=True)
    if count <= MOST_EXACT and ties.max() == 1:
        from scipy import stats  # a fifth of a second, and most sites have too few rounds

        p = stats.kendalltau(np.arange(count), values, method="exact").pvalue
        return s, float(p)
    variance = _weight(count) - sum(_weight(int(t)) for t in ties)
    if s == 0 or variance <= 0:
        return s, 1.0
    z = (abs(s) - 1) / np.sqrt(variance)
    return s, float(2.0 * ndtr(-z))


def _weight(n: int) -> float:
    return n * (n - 1) * (2 * n + 5) / 18.0


def trend_of(times: Array, values: Array, limits: Array, *, confidence: float = 0.9) -> Trend:
    """Test and slope of one series, some of it below its limit.

    Parameters
    ----------
    times : Array, shape (n,)
        In order, no two alike.
    values : Array, shape (n,)
        NaN for a non-detect.
    limits : Array, shape (n,)
        Limit of each non-detect, NaN for the others.
    confidence : float [-]
        Of the interval of the slope.

    Returns
    -------
    Trend
        No slope where anything lies below its limit: the slope would rest on made-up numbers.

    Notes
    -----
    All that lies below the highest limit is taken as one tie, so that a lower limit makes no trend
    (Helsel 2012, Statistics for Censored Environmental Data, from memory).
    The interval of the slope is that of Sen (1968), J. Am. Stat. Assoc. 63, 1379.
    """
    below = np.isnan(values)
    ordered = np.where(below, -np.inf, values)
    if below.any():
        highest = float(np.nanmax(limits[below]))
        ordered = np.where(ordered < highest, -1.0, ordered)
    s, p = mann_kendall(ordered)
    if below.any():
        return Trend(s, p, None, None, None)
    from scipy import stats

    slope, _, low, high = stats.theilslopes(values, times, alpha=confidence)
    return Trend(s, p, float(slope), float(low), float(high))
