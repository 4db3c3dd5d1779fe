"""The frame along flow, across flow and upwards, and the weak priors placed in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from geoprofile.kriging.covariance.data import Data, Parameters, Prior
    from geoprofile.kriging.covariance.strata import Strata

Array = NDArray[np.float64]

# So far apart, in correlation lengths, that no covariance reaches from one layer to the next.
APART = 1e4
# A site seen from one hole, or at one depth, still has some extent in the other direction.
LEAST_SHARE = 0.05


def axes(azimuth_deg: float, dip_deg: float) -> Array:
    """Unit vectors along flow, across flow (to the right) and up.

    Parameters
    ----------
    azimuth_deg : float [degrees]
        Clockwise from grid north.
    dip_deg : float [degrees]
        Down from the horizontal.

    Returns
    -------
    Array, shape (3, 3) [-]
        One axis a row, in easting, northing, elevation.
    """
    a, d = radians(azimuth_deg), radians(dip_deg)
    return np.array(
        [
            [sin(a) * cos(d), cos(a) * cos(d), -sin(d)],
            [cos(a), -sin(a), 0.0],
            [sin(a) * sin(d), cos(a) * sin(d), cos(d)],
        ]
    )


@dataclass(frozen=True, eq=False)
class Frame:
    """Turns coordinates about `origin` (3,) [m] and divides them by `lengths` (3,) [m].

    Layers of the ground are pulled apart downwards, each by `APART` from the one above, so that
    the field in one knows nothing of the others.
    """

    origin: Array
    axes: Array
    lengths: Array
    strata: Strata | None = None

    @classmethod
    def of(cls, parameters: Parameters, origin: Array, strata: Strata | None = None) -> Frame:
        """The frame in which the covariance depends on distance alone."""
        p = parameters
        lengths = np.array([p.length_along_m, p.length_across_m, p.length_vertical_m])
        return cls(origin, axes(p.azimuth_deg, p.dip_deg), lengths, strata)

    def turn(self, shift: Array) -> Array:
        """Turned and scaled differences of position, shape (..., 3) [m] to [-]."""
        return np.asarray(shift @ (self.axes / self.lengths[:, None]).T)

    def place(self, xyz: Array) -> Array:
        """Turned and scaled positions, layers pulled apart, shape (..., 3) [m] to [-]."""
        placed = self.turn(xyz - self.origin)
        if self.strata is not None:
            number = self.strata.number(xyz.reshape(-1, 3))
            placed[..., 2] -= APART * number.reshape(xyz.shape[:-1])
        return placed


def extents(data: Data) -> tuple[float, float]:
    """Horizontal and vertical extent of the data, never zero.

    Parameters
    ----------
    data : Data
        At least one datum [-].

    Returns
    -------
    tuple of float [m]
        Largest horizontal distance from the middle, doubled; and vertical range.
    """
    ends = np.concatenate([np.concatenate([line[:1], line[-1:]]) for line in data.support.lines])
    low, high = ends.min(0), ends.max(0)
    middle = 0.5 * (low + high)
    # Measured by distance, not by axis, so that turning the site changes nothing.
    across = 2.0 * float(np.hypot(*(ends - middle)[:, :2].T).max())
    height = float(high[2] - low[2])
    if across == 0.0 and height == 0.0:
        return 1.0, LEAST_SHARE
    return max(across, height), max(height, LEAST_SHARE * across)


def centred(prior: Prior, data: Data) -> Prior:
    """The prior with its along-flow length placed by the data's extent.

    Parameters
    ----------
    prior : Prior
        As the user gave it.
    data : Data
        Shape (n,) [log10 unit].

    Returns
    -------
    Prior
        With `length_along_m` [m] set.
    """
    if prior.length_along_m is not None:
        return prior
    return replace(prior, length_along_m=0.2 * extents(data)[0])
