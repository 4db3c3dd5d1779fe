"""The vertical section along a line with bends: from the map to the section plane and back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoprofile.errors import DataError

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SectionPlane:
    """A vertical plane, or a wall with bends, above a line on the map.

    `xy` is an Array, shape (k, 2) [m]: the vertices of the line in map coordinates.
    """

    xy: Array

    def __post_init__(self) -> None:
        """Check the line and keep a read-only copy of it."""
        xy = np.array(self.xy, dtype=np.float64)
        if xy.ndim != 2 or xy.shape[1] != 2 or not np.all(np.isfinite(xy)):
            raise DataError("section line", "no list of x, y", "vertices x, y", "Redraw the line.")
        moved = np.append(True, np.any(np.diff(xy, axis=0) != 0, axis=1))
        xy = xy[moved]
        if len(xy) < 2:
            raise DataError(
                "section line", "one point", "two or more different points", "Redraw the line."
            )
        xy.setflags(write=False)
        object.__setattr__(self, "xy", xy)

    @property
    def bends(self) -> Array:
        """Distance of every vertex along the line, shape (k,) [m]."""
        steps = np.linalg.norm(np.diff(self.xy, axis=0), axis=1)
        return np.concatenate([[0.0], np.cumsum(steps)])

    @property
    def length_m(self) -> float:
        """Length of the line [m]."""
        return float(self.bends[-1])

    @property
    def directions(self) -> Array:
        """Unit vectors along the pieces, shape (k - 1, 2) [-]."""
        steps = np.diff(self.xy, axis=0)
        return np.asarray(steps / np.linalg.norm(steps, axis=1, keepdims=True), dtype=np.float64)

    @property
    def azimuths(self) -> Array:
        """Azimuth of every piece from grid north, clockwise, shape (k - 1,) [deg]."""
        east, north = self.directions.T
        return np.asarray(np.degrees(np.arctan2(east, north)) % 360.0, dtype=np.float64)

    def azimuths_at(self, distance: ArrayLike) -> Array:
        """Azimuth of the piece at each distance along the line.

        Parameters
        ----------
        distance : Array, shape (n,) [m]
            Along the line.

        Returns
        -------
        Array, shape (n,) [deg]
            From grid north, clockwise; at a bend that of the next piece.
        """
        return np.asarray(self.azimuths[self._piece(np.asarray(distance, dtype=np.float64))])

    def _piece(self, distance: Array) -> NDArray[np.int64]:
        """Number of the piece at each distance; the first and the last run on."""
        after = np.searchsorted(self.bends, distance, side="right")
        return np.asarray(np.clip(after - 1, 0, len(self.xy) - 2), dtype=np.int64)

    def to_section(self, xyz: ArrayLike) -> tuple[Array, Array, Array]:
        """Project points onto the nearest piece of the section.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            x, y, elevation.

        Returns
        -------
        distance : Array, shape (n,) [m]
            Along the line. Before the start it is negative and past the end larger than the
            length: the first and the last piece are taken as running on.
        elevation : Array, shape (n,) [m]
            As given.
        offset : Array, shape (n,) [m]
            Horizontal distance from the section, positive to the right of its direction.

        Notes
        -----
        At the outside of a bend the foot of a point is the bend itself; its offset is then the
        distance to the bend.
        """
        points = np.atleast_2d(np.asarray(xyz, dtype=np.float64))
        relative = points[:, None, :2] - self.xy[None, :-1, :]
        along_axis = self.directions
        length = np.diff(self.bends)
        along = np.einsum("nkj,kj->nk", relative, along_axis)
        low = np.zeros_like(length)
        high = length.copy()
        low[0], high[-1] = -np.inf, np.inf
        foot = np.clip(along, low, high)
        gap = relative - foot[..., None] * along_axis
        size = np.linalg.norm(gap, axis=2)
        piece = np.argmin(size, axis=1)
        row = np.arange(len(points))
        u, v = along_axis[piece].T, gap[row, piece].T
        right = u[1] * v[0] - u[0] * v[1]
        offset = np.where(right < 0, -1.0, 1.0) * size[row, piece]
        return self.bends[piece] + foot[row, piece], points[:, 2].copy(), offset

    def to_map(self, distance: ArrayLike, elevation: ArrayLike) -> Array:
        """Points of the section plane in map coordinates.

        Parameters
        ----------
        distance : Array, shape (n,) [m]
            Along the line; below 0 and past the end the line runs on.
        elevation : Array, shape (n,) [m]
            Up from the vertical datum.

        Returns
        -------
        Array, shape (n, 3) [m]
            x, y, elevation.
        """
        along, height = np.broadcast_arrays(
            np.atleast_1d(np.asarray(distance, dtype=np.float64)),
            np.atleast_1d(np.asarray(elevation, dtype=np.float64)),
        )
        piece = self._piece(along)
        xy = self.xy[piece] + (along - self.bends[piece])[:, None] * self.directions[piece]
        return np.column_stack([xy, height])

    def crossings(self, other: SectionPlane) -> Array:
        """Where this section crosses another one.

        Parameters
        ----------
        other : SectionPlane
            The other section.

        Returns
        -------
        Array, shape (m, 2) [m]
            Distance along this section and along the other one, in order of the first.
        """
        found = []
        for i, (a, da) in enumerate(zip(self.xy[:-1], self.directions, strict=True)):
            for j, (b, db) in enumerate(zip(other.xy[:-1], other.directions, strict=True)):
                cross = da[0] * db[1] - da[1] * db[0]
                if abs(cross) < 1e-12:
                    continue
                gap = b - a
                s = (gap[0] * db[1] - gap[1] * db[0]) / cross
                t = (gap[0] * da[1] - gap[1] * da[0]) / cross
                if 0 <= s <= np.diff(self.bends)[i] and 0 <= t <= np.diff(other.bends)[j]:
                    found.append((self.bends[i] + s, other.bends[j] + t))
        unique = sorted(set(found))
        return np.array(unique, dtype=np.float64).reshape(-1, 2)
