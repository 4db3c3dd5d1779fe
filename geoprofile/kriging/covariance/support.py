"""Supports: the intervals or points that data are averages over, and their Gauss points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.kriging.covariance.overlaps import Overlaps

Array = NDArray[np.float64]
LAYERED_NODES = 4  # fewer would put a crossing interval wholly into one of its layers


@dataclass(frozen=True, eq=False)
class Support:
    """Where n data lie: each an interval along a (curved) hole, or a point.

    `lines` holds one array (k, 3) [m] per datum, easting, northing, elevation; a point has k = 1.
    """

    lines: tuple[Array, ...]

    @classmethod
    def from_lines(cls, lines: Sequence[Array]) -> Support:
        """Intervals along the hole.

        Parameters
        ----------
        lines : sequence of Array, shape (k, 3) [m]
            Easting, northing, elevation along each interval; k = 1 is a point.

        Returns
        -------
        Support
            With one item [-] per line.

        Raises
        ------
        DataError
            A line is empty, is no (k, 3) array or holds a number that is not finite.
        """
        checked = []
        for number, line in enumerate(lines):
            path = np.array(line, dtype=float)
            if path.ndim != 2 or path.shape[1] != 3 or not path.size or not np.isfinite(path).all():
                raise DataError(
                    f"interval {number}",
                    f"an array of shape {path.shape}",
                    "finite coordinates of shape (k, 3)",
                    "Give easting, northing and elevation of every point.",
                )
            path.flags.writeable = False
            checked.append(path)
        return cls(tuple(checked))

    @classmethod
    def from_points(cls, xyz: Array) -> Support:
        """Points.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        Support
            With n items [-].

        Raises
        ------
        DataError
            Not an (n, 3) array of finite numbers.
        """
        points = np.atleast_2d(np.asarray(xyz, dtype=float))
        return cls.from_lines([point[None, :] for point in points])

    def __len__(self) -> int:
        """Number of data."""
        return len(self.lines)

    @cached_property
    def chord(self) -> Array:
        """From the first to the last point of each interval, shape (n, 3) [m]."""
        chords = [line[-1] - line[0] for line in self.lines]
        return np.array(chords).reshape(-1, 3)

    @cached_property
    def centre(self) -> Array:
        """Middle of each interval along the hole, shape (n, 3) [m]."""
        return self.along(np.array([0.5]))[:, 0]

    def along(self, share: Array) -> Array:
        """Points at given shares of the length of each interval.

        Parameters
        ----------
        share : Array, shape (g,) [-]
            Between 0 (first point) and 1 (last point).

        Returns
        -------
        Array, shape (n, g, 3) [m]
            Easting, northing, elevation.
        """
        key = share.tobytes()
        places = self._along.get(key)
        if places is None:
            places = self._placed(share)
            places.flags.writeable = False
            self._along.clear()  # one rule at a time is asked for again and again
            self._along[key] = places
        return places

    @cached_property
    def _along(self) -> dict[bytes, Array]:
        """What `along` has found last."""
        return {}

    @cached_property
    def overlaps(self) -> Overlaps:
        """Intervals that share part of one straight line."""
        return Overlaps.of(self.lines)

    def _placed(self, share: Array) -> Array:
        """Points at given shares, shape (n, g, 3) [m]."""
        first = np.array([line[0] for line in self.lines]).reshape(-1, 1, 3)
        places = first + share[:, None] * self.chord[:, None, :]
        for row, line in zip(places, self.lines, strict=True):
            if len(line) <= 2:
                continue
            run = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1)))
            for axis in range(3):
                row[:, axis] = np.interp(share * run[-1], run, line[:, axis])
        return places

    def take(self, index: NDArray[np.intp]) -> Support:
        """Some of the items.

        Parameters
        ----------
        index : Array, shape (m,) [-]
            Positions of the items to keep.

        Returns
        -------
        Support
            With m items [-].
        """
        return Support(tuple(self.lines[i] for i in index))


@cache
def gauss_rule(count: int) -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights on [0, 1].

    Parameters
    ----------
    count : int [-]
        Number of nodes.

    Returns
    -------
    tuple of Array, shape (count,) [-]
        Nodes and weights; the weights add to 1.

    References
    ----------
    Abramowitz & Stegun (1964), 25.4.30.
    """
    node, weight = np.polynomial.legendre.leggauss(count)
    rule = 0.5 * (node + 1.0), 0.5 * weight
    for numbers in rule:
        numbers.flags.writeable = False
    return rule


def nodes_for(length: float, *, layered: bool = False) -> int:
    """How many Gauss points an interval needs; even counts do better next to the cusp.

    Parameters
    ----------
    length : float [-]
        Longest interval, in correlation lengths.
    layered : bool
        Whether intervals may cross from one layer of the ground into another.

    Returns
    -------
    int [-]
        1, 2, 4 or 8 points per interval.

    Notes
    -----
    Intervals of one straight hole that do not overlap: exact to 1e-6 of the sill in exponential
    and Matern fields, to 5e-4 in a spherical one (it has a bend at its range). Intervals of two
    holes: as exact from half an interval's length apart, to 1e-2 if closer.
    """
    for limit, count in ((0.002, 1), (0.1, 2), (1.0, 4)):
        if length < limit:
            return max(count, LAYERED_NODES) if layered else count
    return 8
