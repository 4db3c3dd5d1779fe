"""Layers of the ground that a field does not cross, bounded by surfaces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

if TYPE_CHECKING:
    from geoprofile.geometry.linear_surface import Cones

Array = NDArray[np.float64]

LEAST_CHANCE = 0.005  # of lying across a contact, below which a place counts as surely within
STEP_M = 1e-3  # from a contact to the place just across it


@dataclass(frozen=True, eq=False)
class Across:
    """Places that may lie across the contact next to them, since contacts are known in holes only.

    `rows` (k,) are their positions, `apart` (k,) [-] their height above the contact in its standard
    deviations, and `places` (k, 3) [m] lie just across it.
    """

    rows: NDArray[np.intp]
    apart: Array
    places: Array

    @property
    def chance(self) -> Array:
        """Probability of lying across, shape (k,) [-]."""
        return np.asarray(ndtr(-np.abs(self.apart)))


@dataclass(frozen=True, eq=False)
class Strata:
    """Layers from the ground down: `contacts` are the surfaces between them, in that order.

    A contact never rises above the one before it: where it would, the layer between is absent.
    Away from its points a contact stays within their range of elevations.
    """

    ground: Cones
    contacts: tuple[Cones, ...]

    @property
    def count(self) -> int:
        """Number of layers."""
        return len(self.contacts) + 1

    def tops(self, xy: Array) -> Array:
        """Elevation of the top of every layer.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            Easting, northing.

        Returns
        -------
        Array, shape (n, count) [m]
            Never rising from one layer to the next; equal where a layer is absent.
        """
        surfaces = [self.ground.at(xy), *(contact.held(xy) for contact in self.contacts)]
        return np.minimum.accumulate(np.column_stack(surfaces), axis=1)

    def number(self, xyz: Array) -> NDArray[np.int64]:
        """Layer of every place.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation; above ground counts as the first layer.

        Returns
        -------
        Array of int, shape (n,) [-]
            From 0, the uppermost.
        """
        places = np.asarray(xyz, dtype=float)
        below = places[:, 2:] < self.tops(places[:, :2])[:, 1:]
        return np.asarray(below.sum(axis=1), dtype=np.int64)

    def across(self, xyz: Array) -> Across:
        """Places so near to a contact that they may lie across it.

        Parameters
        ----------
        xyz : Array, shape (n, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        Across
            Of the k places [-] that do with a chance worth counting, by their nearest contact.
        """
        rows = np.arange(len(xyz))
        if not self.contacts:
            return Across(rows[:0], np.empty(0), np.empty((0, 3)))
        tops = self.tops(xyz[:, :2])[:, 1:]
        sd = np.column_stack([contact.sd(xyz[:, :2]) for contact in self.contacts])
        gap = xyz[:, 2:] - tops
        # A contact that is surely where it is, as in a hole, cannot be crossed.
        apart = np.where(sd > 0.0, gap / np.maximum(sd, 1e-12), np.copysign(np.inf, gap))
        nearest = np.abs(apart).argmin(axis=1)
        apart, tops = apart[rows, nearest], tops[rows, nearest]
        kept = rows[ndtr(-np.abs(apart)) > LEAST_CHANCE]
        places = xyz[kept].copy()
        places[:, 2] = tops[kept] - np.where(apart[kept] < 0.0, -STEP_M, STEP_M)
        return Across(kept, apart[kept], places)


def numbers_of(strata: Strata | None, places: Array) -> NDArray[np.int64]:
    """Layer of every Gauss point.

    Parameters
    ----------
    strata : Strata or None
        Layers of the ground; None where it is one.
    places : Array, shape (n, g, 3) [m]
        Gauss points.

    Returns
    -------
    Array of int, shape (n, g) [-]
        From 0, the uppermost.
    """
    if strata is None:
        return np.zeros(places.shape[:2], dtype=np.int64)
    return strata.number(places.reshape(-1, 3)).reshape(places.shape[:2])


def shares_of(layer: NDArray[np.int64], weights: Array) -> Array:
    """How much of each interval lies in which layer.

    Parameters
    ----------
    layer : Array of int, shape (n, g) [-]
        Of its Gauss points.
    weights : Array, shape (g,) [-]
        Theirs.

    Returns
    -------
    Array, shape (n, layers) [-]
        Adding to 1; as many columns as the deepest layer needs.
    """
    columns = [(layer == k) @ weights for k in range(int(layer.max(initial=0)) + 1)]
    return np.asarray(np.column_stack(columns) / weights.sum())
