"""The borehole in 3D: circular arcs between survey stations (minimum curvature)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoprofile.errors import DataError

Array: TypeAlias = NDArray[np.float64]

SAGITTA_M = 1e-3  # largest gap between the drawn chords and the arc [m]
LEAST_BEND_RAD = 1e-12  # below this two tangents count as one


@dataclass(frozen=True, eq=False)
class Path:
    """A borehole path through x, y, elevation.

    `station_depth_m` (n,) [m], `station_xyz` (n, 3) [m] and `tangents` (n, 3) [-] describe the
    stations, the first at depth 0; `length_m` [m] is the length of the hole along its path;
    `surveyed` is False where no direction was measured and the hole counts as vertical.
    """

    length_m: float
    station_depth_m: Array
    station_xyz: Array
    tangents: Array
    surveyed: bool

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for array in (self.station_depth_m, self.station_xyz, self.tangents):
            array.setflags(write=False)

    def at(self, depths: ArrayLike) -> Array:
        """Points of the path at depths along the hole.

        Parameters
        ----------
        depths : Array, shape (n,) [m]
            Along the hole from ground, positive down. Beyond the last station, and above depth 0,
            the hole runs straight on. NaN gives NaN.

        Returns
        -------
        Array, shape (n, 3) [m]
            x, y, elevation.
        """
        depth = np.atleast_1d(np.asarray(depths, dtype=np.float64))
        first = np.searchsorted(self.station_depth_m, depth, side="right") - 1
        first = np.clip(first, 0, len(self.station_depth_m) - 1)
        along = (depth - self.station_depth_m[first])[:, None]
        start, t1 = self.station_xyz[first], self.tangents[first]
        bend, normal, length = self._arcs
        angle = (bend[first] / length[first])[:, None] * np.maximum(along, 0.0)
        # sin(a)/a and (1 - cos(a))/a in a form that holds at a = 0
        forward = along * np.sinc(angle / np.pi)
        aside = along * (angle / 2) * np.sinc(angle / (2 * np.pi)) ** 2
        return np.asarray(start + forward * t1 + aside * normal[first], dtype=np.float64)

    def line(self, top: float, bottom: float) -> Array:
        """The path between two depths as a polyline that keeps within 1 mm of the arc.

        Parameters
        ----------
        top, bottom : float [m]
            Depths along the hole, top above bottom.

        Returns
        -------
        Array, shape (k, 3) [m]
            x, y, elevation from top to bottom; two points where the hole is straight.

        Raises
        ------
        DataError
            The top is not above the bottom.
        """
        if not top < bottom:
            raise DataError(
                "interval", f"top {top:g} m and bottom {bottom:g} m", "top above bottom", "Swap."
            )
        return self.at(self._nodes(float(top), float(bottom)))

    def elevation(self, depths: ArrayLike) -> Array:
        """Elevation at depths along the hole.

        Parameters
        ----------
        depths : Array, shape (n,) [m]
            Along the hole from ground, positive down.

        Returns
        -------
        Array, shape (n,) [m]
            Up from the vertical datum.
        """
        return self.at(depths)[:, 2]

    def vertical_depth(self, depths: ArrayLike) -> Array:
        """Vertical depth below the collar at depths along the hole.

        Parameters
        ----------
        depths : Array, shape (n,) [m]
            Along the hole from ground, positive down.

        Returns
        -------
        Array, shape (n,) [m]
            Positive down.
        """
        return np.asarray(self.station_xyz[0, 2] - self.elevation(depths), dtype=np.float64)

    def depth_at_elevation(self, elevation_m: float) -> float:
        """Depth along the hole at which it passes an elevation.

        Parameters
        ----------
        elevation_m : float [m]
            Up from the vertical datum.

        Returns
        -------
        float [m]
            Along the hole; NaN where the hole ends above or starts below that elevation.
        """
        from scipy.optimize import brentq

        def gap(depth: float) -> float:
            return float(self.elevation(depth)[0]) - elevation_m

        if gap(0.0) < 0 or gap(self.length_m) > 0:
            return float("nan")
        return float(brentq(gap, 0.0, self.length_m, xtol=1e-9))

    @cached_property
    def _arcs(self) -> tuple[Array, Array, Array]:
        """Bend [rad], unit normal and length [m] of the piece below each station."""
        t1, t2 = self.tangents[:-1], self.tangents[1:]
        bend = np.append(_angle(t1, t2), 0.0)
        normal = np.zeros_like(self.tangents)
        across = t2 - t1 * np.sum(t1 * t2, axis=1, keepdims=True)
        size = np.linalg.norm(across, axis=1, keepdims=True)
        np.divide(across, size, out=normal[:-1], where=size > LEAST_BEND_RAD)
        length = np.append(np.diff(self.station_depth_m), 1.0)
        return bend, normal, length

    def _nodes(self, top: float, bottom: float) -> Array:
        """Depths whose chords keep within `SAGITTA_M` of the arcs, ends and stations included."""
        inner = self.station_depth_m[(self.station_depth_m > top) & (self.station_depth_m < bottom)]
        ends = np.concatenate(([top], inner, [bottom]))
        bend, _, length = self._arcs
        pieces = [ends[:1]]
        for start, end in pairwise(ends):
            station = max(int(np.searchsorted(self.station_depth_m, start, side="right")) - 1, 0)
            curvature = bend[station] / length[station] if start >= 0 else 0.0
            # sagitta of a chord c on an arc of curvature k is k c^2 / 8
            count = int(np.ceil((end - start) * np.sqrt(curvature / (8 * SAGITTA_M)))) or 1
            pieces.append(np.linspace(start, end, count + 1)[1:])
        return np.concatenate(pieces)


def trajectory(
    collar_xyz: ArrayLike, depth_m: float, stations: tuple[ArrayLike, ArrayLike, ArrayLike] | None
) -> Path:
    """The path of a borehole from its collar, its length and its survey.

    Parameters
    ----------
    collar_xyz : Array, shape (3,) [m]
        x, y and ground elevation of the collar.
    depth_m : float [m]
        Length of the hole along its path.
    stations : tuple of three Arrays, shape (n,) [m, deg, deg], or None
        Depth along the hole, strictly rising; inclination from vertical; azimuth from grid north,
        clockwise. None or no rows: the hole counts as vertical. A first station below ground
        leaves the hole vertical at the collar, bending towards that station; one station at
        depth 0 makes a straight inclined hole.

    Returns
    -------
    Path
        Positions [m] and tangents [-] of the stations.

    Raises
    ------
    DataError
        Depths not rising, values missing, or a hole that turns right about between two stations.

    Notes
    -----
    Between stations the hole is a circular arc tangent to both directions. Azimuths must already
    be from grid north: declination and convergence are not applied here.

    References
    ----------
    Minimum curvature method: Taylor and Mason (1972), common to all survey handbooks.

    Examples
    --------
    trajectory((0, 0, 0), 10, ([0], [90], [90])).at([10]) is x = 10, y = 0, elevation = 0.
    """
    collar = np.asarray(collar_xyz, dtype=np.float64)
    if stations is None or np.size(stations[0]) == 0:
        straight = np.array([[0.0, 0.0, -1.0]])
        return Path(float(depth_m), np.zeros(1), collar[None, :].copy(), straight, False)
    depth, tangents = _directions(stations)
    steps = _steps(depth, tangents)
    xyz = collar + np.vstack([np.zeros(3), np.cumsum(steps, axis=0)])
    return Path(float(depth_m), depth, xyz, tangents, True)


def _directions(stations: tuple[ArrayLike, ArrayLike, ArrayLike]) -> tuple[Array, Array]:
    """Depths from 0 and unit tangents (east, north, up)."""
    depth, inclination, azimuth = (
        np.atleast_1d(np.asarray(s, dtype=np.float64)).copy() for s in stations
    )
    _check(depth, inclination, azimuth)
    lean, turn = np.radians(inclination), np.radians(azimuth)
    side = np.sin(lean)
    tangents = np.column_stack([side * np.sin(turn), side * np.cos(turn), -np.cos(lean)])
    if depth[0] > 0:
        depth = np.insert(depth, 0, 0.0)
        tangents = np.vstack([[0.0, 0.0, -1.0], tangents])
    return depth, tangents


def _check(depth: Array, inclination: Array, azimuth: Array) -> None:
    """Refuse missing values and depths that do not rise from the ground down."""
    if not np.all(np.isfinite(np.concatenate([depth, inclination, azimuth]))):
        raise DataError("survey", "a missing value", "depth, inclination and azimuth", "Complete.")
    if depth[0] < 0 or np.any(np.diff(depth) <= 0):
        raise DataError(
            "survey",
            f"station depths {', '.join(f'{d:g}' for d in depth)} m",
            "depths from 0, each deeper than the one before",
            "Sort the stations and remove repeats.",
        )


def _steps(depth: Array, tangents: Array) -> Array:
    """Displacement from each station to the next (n - 1, 3) [m]."""
    bend = _angle(tangents[:-1], tangents[1:])
    if np.any(bend > np.pi * (1 - 1e-6)):
        raise DataError(
            "survey", "a hole that turns right about", "bends below 180 degrees", "Check azimuths."
        )
    half = bend / 2
    small = half < 1e-4
    # tan(h)/h, by its series where the quotient would lose digits
    ratio = np.where(small, 1 + half**2 / 3, np.tan(half) / np.where(small, 1.0, half))
    weight = np.diff(depth) / 2 * ratio
    return np.asarray(weight[:, None] * (tangents[:-1] + tangents[1:]), dtype=np.float64)


def _angle(t1: Array, t2: Array) -> Array:
    """Angle between unit vectors [rad], stable for small ones."""
    chord = np.linalg.norm(t2 - t1, axis=1)
    return np.asarray(2 * np.arcsin(np.clip(chord / 2, 0.0, 1.0)), dtype=np.float64)
