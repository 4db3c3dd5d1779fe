"""Intervals that overlap on one straight line, where Gauss points would meet the cusp."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from geoprofile.kriging.covariance.anisotropy_frame import Frame
    from geoprofile.kriging.covariance.functions import Covariance

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# How far from one straight line two intervals may lie, as a share of the shorter.
STRAIGHT = 1e-3
SIGNS = np.array([1.0, 1.0, -1.0, -1.0])


@dataclass(frozen=True, eq=False)
class Overlaps:
    """Pairs of data, rows `first` and `second` (p,), that share part of one straight line.

    `direction` (p, 3) [-] is that line's; `apart` (p, 4) [m] are the distances end to other end,
    twice, and end to like end, twice; `area` (p,) [m2] is the product of the lengths.
    """

    first: Index
    second: Index
    direction: Array
    apart: Array
    area: Array

    @classmethod
    def of(cls, lines: Sequence[Array]) -> Overlaps:
        """Look for them.

        Parameters
        ----------
        lines : sequence of Array, shape (k, 3) [m]
            Easting, northing, elevation along each interval.

        Returns
        -------
        Overlaps
            Of straight intervals; points and bent intervals are left to the Gauss points.
        """
        ends = np.array([(line[0], line[-1]) for line in lines]).reshape(-1, 2, 3)
        chord, middle = ends[:, 1] - ends[:, 0], ends.mean(1)
        length = np.linalg.norm(chord, axis=1)
        straight = np.array([_is_straight(line) for line in lines], dtype=bool)
        long = np.flatnonzero((length > 0.0) & straight)
        if long.size < 2:
            return cls.among(np.empty((0, 2), dtype=np.intp), chord, middle, length)
        tree = cKDTree(middle[long])
        pairs = tree.query_pairs(float(length[long].max()), output_type="ndarray")
        return cls.among(long[pairs.reshape(-1, 2)], chord, middle, length)

    @classmethod
    def among(cls, pairs: Index, chord: Array, middle: Array, length: Array) -> Overlaps:
        """Those of some pairs (p, 2), by chord and middle (n, 3) [m] and length (n,) [m]."""
        i, j = pairs.T
        along = chord[i] / length[i, None]
        shift = middle[j] - middle[i]
        place = np.einsum("pa,pa->p", shift, along)
        reach = np.einsum("pa,pa->p", chord[j], along)
        least = STRAIGHT * np.minimum(length[i], length[j])
        beside = np.linalg.norm(shift - place[:, None] * along, axis=1)
        turned = np.linalg.norm(chord[j] - reach[:, None] * along, axis=1)
        a, b = -0.5 * length[i], 0.5 * length[i]
        c, d = place - 0.5 * length[j], place + 0.5 * length[j]
        shared = np.minimum(b, d) - np.maximum(a, c)
        some = (beside < least) & (turned < least) & (shared > least)
        apart = np.abs(np.column_stack([b - c, a - d, b - d, a - c]))
        return cls(i[some], j[some], along[some], apart[some], (length[i] * length[j])[some])

    def correlation(self, frame: Frame, covariance: Covariance) -> Array:
        """Mean correlation between the two of each pair, shape (p,) [-].

        Notes
        -----
        With F'' = rho the double integral over [a, b] and [c, d] is F(b - c) + F(a - d) -
        F(b - d) - F(a - c), and F(m) is half of m squared times the mean correlation within an
        interval of length m.
        """
        stretch = np.linalg.norm(frame.turn(self.direction), axis=1)
        within = covariance.within((stretch[:, None] * self.apart).ravel())[0]
        terms = SIGNS * self.apart**2 * within.reshape(self.apart.shape)
        return np.asarray(0.5 * terms.sum(1) / self.area)

    def slopes(self, frame: Frame, covariance: Covariance, factor: Array) -> Array:
        """What the pairs add to `kernels.slopes`, by the factors (n, n) [-] of all data."""
        line = frame.turn(self.direction)
        stretch = np.linalg.norm(line, axis=1)
        by_length = covariance.within((stretch[:, None] * self.apart).ravel())[1]
        terms = SIGNS * self.apart**3 * by_length.reshape(self.apart.shape)
        slope = 0.5 * terms.sum(1) / self.area
        pull = 2.0 * factor[self.first, self.second] * slope / stretch
        a, b, c = line.T
        return np.array([pull @ t for t in (a * a, b * b, c * c, a * b, b * c)])

    def put(self, mean: Array, rows: Index, frame: Frame, covariance: Covariance) -> None:
        """Write the pairs' correlations into those of some data, (k,) of all, to (k, k) [-]."""
        if not self.first.size:
            return
        place = np.full(max(self.first.max(), self.second.max(), rows.max()) + 1, -1)
        place[rows] = np.arange(len(rows))
        a, b = place[self.first], place[self.second]
        some = (a >= 0) & (b >= 0)
        a, b = a[some], b[some]
        mean[a, b] = mean[b, a] = self.correlation(frame, covariance)[some]


def _is_straight(line: Array) -> bool:
    """Whether all points of a line lie on its chord."""
    if len(line) <= 2:
        return True
    chord = line[-1] - line[0]
    square = float(chord @ chord)
    if square == 0.0:
        return False
    shift = line[1:-1] - line[0]
    beside = shift - np.outer(shift @ chord / square, chord)
    return bool((beside * beside).sum(1).max() < STRAIGHT**2 * square)
