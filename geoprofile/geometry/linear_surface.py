"""Smooth surfaces through scattered points of the map: sums of cones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from geoprofile.errors import DataError

Array = NDArray[np.float64]

ROWS = 8192  # places at once, so that memory stays bounded


@dataclass(frozen=True, eq=False)
class Cones:
    """A surface through points: a level plus a cone over every point, their heights adding to 0.

    `xy` (n, 2) [m] are the points, `height` (n,) [-] and `level` the cones, `lowest` and `highest`
    the range of the values [their unit]. It passes through every point, makes no humps between
    them, runs level far away, and holds for one point and for points on a line. It is kriging with
    a linear variogram: `solver` (n + 1, n + 1) and `slope` [unit squared / m] give its error.
    """

    xy: Array
    height: Array
    level: float
    lowest: float
    highest: float
    solver: Array
    slope: float

    @classmethod
    def through(cls, xy: Array, values: Array) -> Cones:
        """The surface through points; those nearer than a millimetre count as one, at their mean.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            Easting, northing.
        values : Array, shape (n,) [any unit]
            To pass through.

        Returns
        -------
        Cones
            Surface [unit of the values].

        Raises
        ------
        DataError
            No point.

        References
        ----------
        Hardy (1971), sums of cones; conditionally definite, so that one solution exists (Micchelli
        1986); the slope of the variogram by restricted likelihood; from memory.
        """
        if not len(xy):
            raise DataError(
                "surface", "no point", "at least one point", "Give points with their elevations."
            )
        _, first, index = np.unique(np.round(xy, 3), axis=0, return_index=True, return_inverse=True)
        places = np.asarray(xy, dtype=float)[first]
        count = np.bincount(index.ravel())
        means = np.bincount(index.ravel(), weights=values) / count
        n = len(places)
        matrix = np.ones((n + 1, n + 1))
        matrix[:n, :n] = cdist(places, places)
        matrix[n, n] = 0.0
        solver = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
        solved = np.linalg.solve(matrix, np.append(means, 0.0))
        height, level = solved[:n], float(solved[n])
        slope = max(-float(means @ height), 0.0) / max(n - 1, 1)
        return cls(places, height, level, float(means.min()), float(means.max()), solver, slope)

    def at(self, xy: Array) -> Array:
        """The surface at places, shape (m, 2) [m] to (m,) [unit of the values]."""
        places = np.asarray(xy, dtype=float).reshape(-1, 2)
        out = np.empty(len(places))
        for first in range(0, len(places), ROWS):
            rows = slice(first, first + ROWS)
            out[rows] = cdist(places[rows], self.xy) @ self.height + self.level
        return out

    def held(self, xy: Array) -> Array:
        """The same, held within the range of the values, shape (m, 2) [m] to (m,)."""
        return np.clip(self.at(xy), self.lowest, self.highest)

    def sd(self, xy: Array) -> Array:
        """Standard deviation of the surface at places, shape (m, 2) [m] to (m,) [unit]."""
        places = np.asarray(xy, dtype=float).reshape(-1, 2)
        out = np.empty(len(places))
        for first in range(0, len(places), ROWS):
            rows = slice(first, first + ROWS)
            away = np.column_stack([cdist(places[rows], self.xy), np.ones(len(places[rows]))])
            out[rows] = np.einsum("mi,ij,mj->m", away, self.solver, away, optimize=True)
        return np.asarray(np.sqrt(np.maximum(self.slope * out, 0.0)))
