"""Quantiles of mixtures of normals, each of which stands for a comb of weighted values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from geoprofile.hydraulics.posterior import LEVELS, quantiles
from geoprofile.hydraulics.tests import Array

LEAST_SHARE = 1e-4  # of a normal below which it is left out
FURTHEST, STEP = 3.2, 0.1  # [-] sds: the last value of a comb, and from one to the next
MOST_STEPS = 50  # of a search that takes some eight

_COMB = np.linspace(-FURTHEST, FURTHEST, round(2.0 * FURTHEST / STEP) + 1)
_OWN = np.exp(-0.5 * _COMB**2)
_OWN /= _OWN.sum()
# with nothing before the first and after the last: values, their weights, and those up to each
_VALUE = np.concatenate(((-np.inf,), _COMB, (np.inf,)))
_WEIGHT = np.concatenate(((0.0,), _OWN, (0.0,)))
_SUM = np.cumsum(_WEIGHT)


def mixed(share: Array, mean: Array, sd: Array) -> tuple[Array, Array]:
    """Quantiles and sds of n mixtures of the same r normals' shares.

    Parameters
    ----------
    share : Array, shape (r,) [-]
        Of the normals, summing to 1; those below 1e-4 are left out.
    mean, sd : Array, shape (r, n) [-]
        Of each normal in every mixture.

    Returns
    -------
    tuple of Array, shape (n, 3) and (n,) [-]
        2.5, 50 and 97.5 % of each mixture, and its sd.

    Notes
    -----
    As `quantiles` of all values of all combs, which are some ten thousand: values and weights up to
    any place follow from each comb's own, so that a search finds the two beside a level.
    """
    kept = np.flatnonzero(share > LEAST_SHARE)
    mean, sd = np.ascontiguousarray(mean[kept].T), np.ascontiguousarray(sd[kept].T)
    weight = share[kept] / share[kept].sum()
    centre = mean @ weight
    whole = np.sqrt(((mean - centre[:, None]) ** 2 + sd**2) @ weight)
    found = [_at(level, mean, sd, weight, centre + ndtri(level) * whole) for level in LEVELS]
    return np.stack(found, axis=1), whole


def _at(level: float, mean: Array, sd: Array, weight: Array, guess: Array) -> Array:
    """One quantile of n mixtures of combs (n, r), by false position from a guess (n,)."""
    out, rows = np.empty(len(mean)), np.arange(len(mean))
    low, high = (mean - FURTHEST * sd).min(1), (mean + FURTHEST * sd).max(1)
    # weight up to each, less the level: below 0 and above it
    under, over = np.full(rows.size, -level), np.full(rows.size, 1.0 - level)
    side = np.zeros(rows.size)
    place = np.minimum(np.maximum(guess, low), high)
    for _ in range(MOST_STEPS):
        left, right, up_to, beyond = _beside(place, mean[rows], sd[rows], weight)
        up_to -= level
        beyond -= level
        found = (up_to <= 0.0) & (beyond > 0.0)
        part = up_to[found] / (up_to[found] - beyond[found])
        out[rows[found]] = left[found] + (right[found] - left[found]) * part
        ahead = beyond <= 0.0
        new = np.where(ahead, 1.0, -1.0)
        again = np.where(side == new, 0.5, 1.0)
        low, high = np.where(ahead, right, low), np.where(ahead, high, left)
        under = np.where(ahead, beyond, again * under)
        over = np.where(ahead, again * over, up_to)
        if found.any():
            rows, low, high, under, over, new = (
                a[~found] for a in (rows, low, high, under, over, new)
            )
        if not rows.size:
            return out
        side = new
        place = low + (high - low) * (under / (under - over))
    for row in rows:  # among equal values
        values, own = mean[row][:, None] + sd[row][:, None] * _COMB, weight[:, None] * _OWN
        out[row] = quantiles(values.ravel(), own.ravel())[LEVELS.index(level)]
    return out


def _beside(
    place: Array, mean: Array, sd: Array, weight: Array
) -> tuple[Array, Array, Array, Array]:
    """The values before and after a place in each mixture, and the weight up to the middle of each:
    all (n,).
    """
    cell = ((place[:, None] - mean) / sd + (FURTHEST + STEP)) * (1.0 / STEP)
    np.minimum(np.maximum(cell, 0.0, out=cell), float(_COMB.size), out=cell)
    index: NDArray[np.intp] = cell.astype(np.intp)
    sums = _SUM[index] @ weight
    before, after = mean + sd * _VALUE[index], mean + sd * _VALUE[index + 1]
    each = np.arange(len(mean))
    # of equal ones the last before and the first after, as sorting leaves them
    one, two = len(weight) - 1 - before[:, ::-1].argmax(1), after.argmin(1)
    first = 0.5 * weight[one] * _WEIGHT[index[each, one]]
    second = 0.5 * weight[two] * _WEIGHT[index[each, two] + 1]
    return before[each, one], after[each, two], sums - first, sums + second
