"""Mixtures of normals: what draws of non-detects and several members say together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from geoprofile.compiling import fixed
from geoprofile.kriging.predict.compiled import chances

Array = NDArray[np.float64]

# Weight, means of the draws (m, d), standard deviation that they share (m,).
Part = tuple[float, Array, Array]

LEAST_SD = 1e-12
# How near the probability must come before the last step.
CLOSE, STEPS = 3e-4, 40


def moments(parts: Sequence[Part]) -> tuple[Array, Array]:
    """Mean and standard deviation.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Weight, means, and sd of each member.

    Returns
    -------
    tuple of Array, shape (m,) [log10 unit]
        Mean and sd of the mixture.
    """
    if len(parts) == 1 and parts[0][1].shape[1] == 1:
        return parts[0][1][:, 0], parts[0][2]
    mean = sum((weight * means.mean(1) for weight, means, _ in parts), np.zeros(1))
    square = np.zeros(1)
    for weight, means, sd in parts:
        square = square + weight * (((means - mean[:, None]) ** 2).mean(1) + sd * sd)
    return mean, np.sqrt(square)


def below(parts: Sequence[Part], level: Array | float) -> Array:
    """Probability of lying below a level.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Weight, means, and sd of each member.
    level : Array, shape (m,), or float [log10 unit]
        Where the distribution is read.

    Returns
    -------
    Array, shape (m,) [-]
        Between 0 and 1.
    """
    return both_below(parts, level)[0]


def both_below(parts: Sequence[Part], level: Array | float) -> tuple[Array, Array]:
    """Probability of lying below a level, and the mean of its square over the draws.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Weight, means, and sd of each member.
    level : Array, shape (m,), or float [log10 unit]
        Where the distribution is read.

    Returns
    -------
    tuple of Array, shape (m,) [-]
        Between 0 and 1.
    """
    count = len(parts[0][2])
    total, square = np.zeros(count), np.zeros(count)
    at = fixed(np.ascontiguousarray(np.broadcast_to(np.asarray(level, dtype=float), (count,))))
    for weight, means, sd in parts:
        first, second = np.zeros(count), np.zeros(count)
        draws = fixed(np.ascontiguousarray(means.T))
        chances(draws, np.maximum(sd, LEAST_SD), at, first, second)
        total += weight / len(draws) * first
        square += weight / len(draws) * second
    return total, square


def density(parts: Sequence[Part], level: Array) -> Array:
    """Density at a level.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Weight, means, and sd of each member.
    level : Array, shape (m,) [log10 unit]
        Where the density is read.

    Returns
    -------
    Array, shape (m,) [1 / log10 unit]
        Not negative.
    """
    total = np.zeros(1)
    for weight, means, sd in parts:
        spread = np.maximum(sd, LEAST_SD)[:, None]
        apart = (level[:, None] - means) / spread
        total = total + weight * (np.exp(-0.5 * apart**2) / spread).mean(1) / np.sqrt(2.0 * np.pi)
    return total


def quantile(parts: Sequence[Part], probability: float) -> Array:
    """Level with a given probability below it.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Weight, means, and sd of each member.
    probability : float [-]
        Between 0 and 1.

    Returns
    -------
    Array, shape (m,) [log10 unit]
        With that probability below it to 3e-4, mostly far closer.

    Notes
    -----
    Newton steps from the normal with the same moments, kept inside a shrinking bracket.
    """
    z = float(ndtri(probability))
    mean, sd = moments(parts)
    if len(parts) == 1 and parts[0][1].shape[1] == 1:
        return np.asarray(mean + z * sd)
    ends = [means + z * s[:, None] for _, means, s in parts]
    low = np.min([end.min(1) for end in ends], axis=0)
    high = np.max([end.max(1) for end in ends], axis=0)
    level = np.clip(mean + z * sd, low, high)
    rows = np.arange(len(level))
    for _ in range(STEPS):
        some = [(weight, means[rows], s[rows]) for weight, means, s in parts]
        here = level[rows]
        miss = below(some, here) - probability
        low[rows] = np.where(miss < 0.0, here, low[rows])
        high[rows] = np.where(miss > 0.0, here, high[rows])
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = here - miss / density(some, here)
        inside = (step > low[rows]) & (step < high[rows])
        level[rows] = np.where(inside, step, 0.5 * (low[rows] + high[rows]))
        rows = rows[np.abs(miss) > CLOSE]
        if not rows.size:
            break
    return level
