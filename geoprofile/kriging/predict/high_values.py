"""Values near and above the highest result: lower than the fitted field alone would have them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from geoprofile.kriging.predict.mixture import Part, moments

Array = NDArray[np.float64]

# A plume is no stronger than its source, and a campaign looks where it is strongest: the fitted
# field alone puts twice as much ground above the highest of all results as there is. From so far
# below that result, distances count by so much. Chosen on half of the solved sites of
# tests/calibration, with criteria from half to four times the highest result (solved_beyond.py).
FROM = 0.2  # [log10]
COUNTS = 0.4  # [-]
REACH = 6.0  # [-] standard deviations above a mean, where nothing lies


@dataclass(frozen=True)
class HighValues:
    """Where high values begin, and the sills by which it is known how far the data reach.

    `begin` [log10 unit] is the level from which distances count less; `sills` [log10 squared] are
    the variances of the members' residuals before any data, numbers or of shape (m,).
    """

    begin: float
    sills: tuple[float | Array, ...]

    def counts(self, parts: Sequence[Part]) -> Array:
        """By how much a distance above `begin` counts.

        Parameters
        ----------
        parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
            Members' predictions of m places.

        Returns
        -------
        Array, shape (m,) [-]
            1 where data hold the value, `COUNTS` where they say nothing of it.
        """
        return 1.0 - (1.0 - COUNTS) * left_of(parts, self.sills)

    def fitted(self, parts: Sequence[Part], level: float) -> Array | float:
        """The level of the fitted field that stands for a true one.

        Parameters
        ----------
        parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
            Members' predictions of m places.
        level : float [log10 unit]
            True one, as a criterion.

        Returns
        -------
        Array, shape (m,), or float [log10 unit]
            The same up to `begin`, higher above it.
        """
        if level <= self.begin:
            return level
        return self.begin + (level - self.begin) / self.counts(parts)

    def true(self, parts: Sequence[Part], values: Array) -> Array:
        """What values of the fitted field stand for.

        Parameters
        ----------
        parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
            Members' predictions of m places.
        values : Array, shape (..., m) [log10 unit]
            Of the fitted field.

        Returns
        -------
        Array, shape (..., m) [log10 unit]
            The same up to `begin`, lower above it.
        """
        over = np.maximum(values - self.begin, 0.0)
        return np.asarray(values - (1.0 - self.counts(parts)) * over)

    def moments(self, parts: Sequence[Part]) -> tuple[Array, Array]:
        """Mean and standard deviation.

        Parameters
        ----------
        parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
            Members' predictions of m places.

        Returns
        -------
        tuple of Array, shape (m,) [log10 unit]
            In closed form, of normals whose part above `begin` is drawn down.
        """
        mean, sd = moments(parts)
        high = np.zeros(len(mean), dtype=bool)
        for _, means, spread in parts:
            high |= means.max(1) + REACH * spread > self.begin
        if not high.any():
            return mean, sd
        less = 1.0 - self.counts(parts)[high]
        over, square = np.zeros(high.sum()), np.zeros(high.sum())
        for weight, means, spread in parts:
            s = np.maximum(spread[high], 1e-12)[:, None]
            away = means[high] - self.begin
            chance = ndtr(away / s)
            height = s * np.exp(-0.5 * (away / s) ** 2) / np.sqrt(2.0 * np.pi)
            over += weight * (height + away * chance).mean(1)
            square += weight * ((away * away + s * s) * chance + away * height).mean(1)
        away = mean[high] - self.begin
        second = sd[high] ** 2 + away**2 - less * (2.0 - less) * square
        made = away - less * over
        mean, sd = mean.copy(), sd.copy()
        mean[high] = self.begin + made
        sd[high] = np.sqrt(np.maximum(second - made * made, 0.0))
        return mean, sd


def left_of(parts: Sequence[Part], sills: Sequence[float | Array]) -> Array:
    """Share of the sill that the data leave: how far they are, without any length to be chosen.

    Parameters
    ----------
    parts : sequence of (float, Array, shape (m, d), Array, shape (m,)) [log10 unit]
        Members' predictions of m places.
    sills : sequence of float or of Array, shape (m,) [log10 squared]
        Variance of each member's residual before any data.

    Returns
    -------
    Array, shape (m,) [-]
        0 at a datum, 1 where no data say anything.
    """
    return np.clip(share_left(parts, sills), 0.0, 1.0)


def share_left(parts: Sequence[Part], sills: Sequence[float | Array]) -> Array:
    """Variance of the members' residuals as a share of what it was before any data.

    Parameters
    ----------
    parts, sills
        As for `left_of`.

    Returns
    -------
    Array, shape (m,) [-]
        Above 1 where the doubt has widened it.
    """
    left = sum((w * sd * sd for w, _, sd in parts), np.zeros(1))
    whole = sum((w * sill for (w, _, _), sill in zip(parts, sills, strict=True)), np.zeros(1))
    return np.asarray(left / np.maximum(whole, 1e-300))
