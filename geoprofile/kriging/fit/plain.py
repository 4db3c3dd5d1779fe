"""The plainest guess of a test left out: one level and one spread for all places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from geoprofile.kriging.covariance.data import Data
from geoprofile.kriging.fit.validation import log_densities
from geoprofile.kriging.predict.mixture import Part

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

STEPS = 60
LEAST_CHANCE = 1e-290
# Of ln density per test [-]: far above what results without structure gain, see `sure_gain`.
LARGE_GAIN = 0.25
# Of the spread of all places, like the sill of a field before its data [log10 squared].
SILL, SILL_WEIGHT = 0.5, 2.0


def level_of_all(data: Data) -> tuple[float, float]:
    """Most probable level and spread of tests that share one, limits counted as limits.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].

    Returns
    -------
    tuple of float [log10 unit]
        Mean and standard deviation.

    References
    ----------
    Expectation and maximisation of a censored normal (Dempster, Laird & Rubin 1977, from memory),
    with the weak prior of a field's sill.
    """
    upper, lower = data.limits
    hidden = data.censored
    finite = np.where(np.isfinite(upper), upper, lower)
    value = np.where(hidden, finite, np.asarray(data.value))
    mean, sd = float(value.mean()), float(max(value.std(), 0.3))
    for _ in range(STEPS):
        high, low = (upper[hidden] - mean) / sd, (lower[hidden] - mean) / sd
        chance = np.maximum(ndtr(high) - ndtr(low), LEAST_CHANCE)
        at_high, at_low = (np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi) for z in (high, low))
        pull = (at_low - at_high) / chance
        with np.errstate(invalid="ignore"):
            bend = np.nan_to_num(low * at_low) - np.nan_to_num(high * at_high)
        first, second = value.copy(), np.zeros(len(value))
        first[hidden] = mean + sd * pull
        second[hidden] = sd * sd * np.maximum(1.0 + bend / chance - pull * pull, 0.0)
        mean = float(first.mean())
        square = float(((first - mean) ** 2 + second).sum())
        sd = float(np.sqrt((square + SILL_WEIGHT * SILL) / (len(value) + SILL_WEIGHT)))
    return mean, sd


def predicted_by_one_level(data: Data, halves: Sequence[Rows]) -> Array:
    """How well the plainest guess does: halves predicted by the level of the other half.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    halves : sequence of Array of int [-]
        Two that follow each other make up all.

    Returns
    -------
    Array, shape (n,) [-]
        ln density of each, as `CrossValidation.log_density`: higher is better.
    """
    parts: list[Part] = []
    means, sds = np.empty((len(data), 1)), np.empty(len(data))
    for number, rows in enumerate(halves):
        rest = np.setdiff1d(np.arange(len(data)), rows)
        means[rest, 0], sds[rest] = level_of_all(data.take(rows))
        if number % 2:
            parts.append((2.0 / len(halves), means.copy(), sds.copy()))
    return log_densities(data, parts)


def sure_gain(gain: Array, group: NDArray[np.int64]) -> float:
    """Mean gain of one prediction over another, less the doubt about it.

    Parameters
    ----------
    gain : Array, shape (n,) [-]
        Difference of ln densities.
    group : Array of int, shape (n,) [-]
        Borehole of each; tests of one borehole are not independent.

    Returns
    -------
    float [-]
        Above 0 where the first is better on average by more than the standard error between
        boreholes; or by more than `LARGE_GAIN`, and not surely worse without its best borehole.

    Notes
    -----
    One clean hole far outside, which a field predicts far better than one level does, widens the
    standard error by as much as it adds to the mean: that alone would take the map from a site that
    had one. Results shuffled between all places gain -.05 to .01 (four sites of 60 tests).
    """
    _, number = np.unique(group, return_inverse=True)
    sums: Array = np.bincount(number, weights=gain).astype(np.float64)
    tests = np.bincount(number)
    between = (float(sums.sum()) - _spread_of_sum(sums)) / len(gain)
    if len(sums) == 1:
        return between
    best = int(np.argmax(sums))
    others: Array = np.delete(sums, best)
    at_most = (float(others.sum()) + _spread_of_sum(others)) / float(tests.sum() - tests[best])
    return max(between, min(float(gain.mean()) - LARGE_GAIN, at_most))


def _spread_of_sum(sums: Array) -> float:
    """Standard error of the sum of independent numbers, from how they differ."""
    count = len(sums)
    return float(np.sqrt(count / max(count - 1, 1) * ((sums - sums.mean()) ** 2).sum()))
