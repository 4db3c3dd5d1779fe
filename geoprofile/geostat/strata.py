"""Layers of the ground that a field does not cross, bounded by surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geoprofile.geostat.cones import Cones

Array = NDArray[np.float64]


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
