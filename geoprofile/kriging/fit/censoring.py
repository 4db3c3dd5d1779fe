"""Non-detects as draws below their limit, given everything else that was measured."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri_exp

from geoprofile.kriging.covariance.data import Data

Array = NDArray[np.float64]

DRAWS = 30


def first_draws(data: Data, count: int, rng: np.random.Generator) -> Array:
    """Values with non-detects spread below (or between) their limits, to start from.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    count : int [-]
        Number of draws.
    rng : Generator
        Source of chance.

    Returns
    -------
    Array, shape (n, count) [log10 unit]
        One column if nothing is censored.
    """
    missing = data.censored
    values = np.repeat(np.asarray(data.value)[:, None], count if missing.any() else 1, axis=1)
    upper, lower = (limit[missing, None] for limit in data.limits)
    # An order of magnitude is a usual spread; the sweeps forget it soon.
    low = np.where(np.isinf(lower), upper - 1.0, lower)
    high = np.where(np.isinf(upper), lower + 1.0, upper)
    values[missing] = low + (high - low) * rng.random((int(missing.sum()), values.shape[1]))
    return values


def sweep(
    data: Data,
    values: Array,
    projection: Array,
    *,
    sweeps: int,
    rng: np.random.Generator,
    offset: Array | None = None,
) -> Array:
    """New draws of every non-detect in turn, all columns at once (Gibbs sampling).

    Parameters
    ----------
    data : Data
        With limits [log10 unit].
    values : Array, shape (n, d) [log10 unit]
        Draws to start from; not changed.
    projection : Array, shape (n, n) [1 / log10 squared]
        P: the precision of the data, the mean's coefficients integrated out.
    sweeps : int [-]
        How often each is drawn anew.
    rng : Generator
        Source of chance.
    offset : Array, shape (n,) or (n, d) [log10 unit]
        Known part of the mean, the same for all columns or each its own.

    Returns
    -------
    Array, shape (n, d) [log10 unit]
        Draws within the limits.

    Notes
    -----
    y_i given the rest is normal, mean y_i - (P y)_i / P_ii and variance 1 / P_ii, cut to its
    limits; drawn by inverting its distribution in logarithms, exact in the far tails.

    References
    ----------
    Stein (1992), De Oliveira (2005), from memory.
    """
    where = np.flatnonzero(data.censored)
    if not where.size:
        return values
    upper, lower = (limit[where] for limit in data.limits)
    drawn = values.copy()
    inner = np.ascontiguousarray(projection[np.ix_(where, where)])
    known = 0.0 if offset is None else offset.reshape(len(drawn), -1)
    state = projection[where] @ (drawn - known)
    here = drawn[where]
    spread = 1.0 / np.sqrt(np.diag(inner))
    open_below = np.isneginf(lower)
    for _ in range(sweeps):
        chance = np.log(rng.random(here.shape))
        for i, sd in enumerate(spread):
            mean = here[i] - state[i] * sd * sd
            high = (upper[i] - mean) / sd
            if open_below[i]:
                new = mean + sd * ndtri_exp(log_ndtr(high) + chance[i])
            else:
                new = mean + sd * _truncated((lower[i] - mean) / sd, high, chance[i])
            state += inner[:, i, None] * (new - here[i])
            here[i] = new
    drawn[where] = here
    return drawn


def _truncated(low: Array, high: Array, log_chance: Array) -> Array:
    """Standard normal between bounds by inversion; the lower tail carries the digits."""
    # Work in the tail that keeps its digits: mirror where the interval lies above zero.
    mirror = low > 0.0
    a, b = np.where(mirror, -high, low), np.where(mirror, -low, high)
    top, bottom = log_ndtr(b), log_ndtr(a)
    # log(F(a) + u (F(b) - F(a))), relative to F(b)
    share = np.exp(bottom - top)
    drawn = ndtri_exp(top + np.log(share + np.exp(log_chance) * (1.0 - share)))
    drawn = np.clip(drawn, a, b)
    return np.asarray(np.where(mirror, -drawn, drawn))
