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
