"""Means of the field: what is known of its shape before the residual is kriged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.anisotropy_frame import LEAST_SHARE, axes
from geoprofile.kriging.covariance.strata import Strata
from geoprofile.kriging.covariance.support import Support

Array = NDArray[np.float64]


class Mean(Protocol):
    """A known part plus unknown coefficients on known functions of place."""

    @property
    def kind(self) -> str:
        """Name of the mean."""

    def basis(self, xyz: Array) -> Array:
        """Functions of place, shape (n, 3) [m] to (n, r) [-]."""

    def precision(self, sill: float) -> Array:
        """Prior precision of the coefficients (zero: flat), shape (r,) [1 / log10 squared]."""

    def over(self, places: Array, weights: Array) -> tuple[Array, Array]:
        """Known part (n,) [log10 unit] and basis (n, r) over Gauss points (n, g, 3)."""


def averaged(mean: Mean, places: Array, weights: Array) -> tuple[Array, Array]:
    """Nothing known, and the basis averaged over the Gauss points.

    Parameters
    ----------
    mean : Mean
        Linear in its coefficients.
    places : Array, shape (n, g, 3) [m]
        Gauss points.
    weights : Array, shape (g,) [-]
        Theirs.

    Returns
    -------
    tuple of Array, shape (n,) [log10 unit] and (n, r) [-]
        Zeros, and the averaged basis.
    """
    basis = mean.basis(places.reshape(-1, 3)).reshape(*places.shape[:2], -1)
    return np.zeros(len(places)), np.einsum("g,ngr->nr", weights, basis)


@dataclass(frozen=True)
class Constant:
    """One unknown level with a flat prior: ordinary kriging."""

    kind: str = "constant"

    def basis(self, xyz: Array) -> Array:
        """Ones, shape (n, 1) [-]."""
        return np.ones((len(xyz), 1))

    def precision(self, sill: float) -> Array:
        """Flat, shape (1,)."""
        return np.zeros(1)

    def over(self, places: Array, weights: Array) -> tuple[Array, Array]:
        """Averages over intervals, (n,) and (n, 1)."""
        return averaged(self, places, weights)


@dataclass(frozen=True, eq=False)
class Quadratic:
    """A parabola across flow on top of a level; every bend is held by a Gaussian prior.

    The log of an advective plume is a parabola across flow. With a prior it never becomes
    singular; beyond `CLIP` half-ranges it is held, since a parabola runs away.
    """

    centre: Array
    half: Array
    axes: Array
    kind: str = "quadratic"

    CLIP = 1.6
    SPREAD = 1.0

    @classmethod
    def around(cls, support: Support, azimuth_deg: float, dip_deg: float) -> Quadratic:
        """The frame that just holds the data."""
        turn = axes(azimuth_deg, dip_deg)
        ends = np.concatenate([np.concatenate([line[:1], line[-1:]]) for line in support.lines])
        origin = ends.mean(0)
        places = (ends - origin) @ turn.T
        low, high = places.min(0), places.max(0)
        half = 0.5 * (high - low)
        half[:2] = np.maximum(half[:2], 10.0 * LEAST_SHARE * half.max())
        half[2] = max(half[2], LEAST_SHARE * half.max())
        if not half.max():
            half[:] = 1.0
        return cls(origin + (0.5 * (low + high)) @ turn, half, turn)

    def basis(self, xyz: Array) -> Array:
        """1, u, v, w, v squared, w squared in the scaled flow frame, shape (n, 6) [-]."""
        scaled = (xyz - self.centre) @ self.axes.T / self.half
        u, v, w = np.clip(scaled, -self.CLIP, self.CLIP).T
        return np.column_stack([np.ones_like(u), u, v, w, v * v, w * w])

    def precision(self, sill: float) -> Array:
        """Flat for the level; sd `SPREAD` square roots of the sill for the rest, shape (6,)."""
        return np.append(0.0, np.full(5, 1.0 / (self.SPREAD**2 * sill)))

    def over(self, places: Array, weights: Array) -> tuple[Array, Array]:
        """Averages over intervals, (n,) and (n, 6)."""
        return averaged(self, places, weights)


@dataclass(frozen=True, eq=False)
class Layered:
    """Another mean, plus a level for every layer of the ground.

    The levels lie `level_sd` [log10 unit] about the level of all: layers with many data find
    theirs, a layer without any is expected where the others are, and far less surely.
    """

    plain: Mean
    strata: Strata
    level_sd: float

    @property
    def kind(self) -> str:
        """Name of the other mean."""
        return self.plain.kind

    def basis(self, xyz: Array) -> Array:
        """The other mean's, then 1 in a place's own layer, shape (n, r + layers) [-]."""
        own = self.strata.number(xyz)[:, None] == np.arange(self.strata.count)
        return np.column_stack([self.plain.basis(xyz), own])

    def precision(self, sill: float) -> Array:
        """The other mean's, then that of the levels, shape (r + layers,)."""
        levels = np.full(self.strata.count, self.level_sd**-2)
        return np.append(self.plain.precision(sill), levels)

    def over(self, places: Array, weights: Array) -> tuple[Array, Array]:
        """Averages over intervals, (n,) and (n, r + layers)."""
        return averaged(self, places, weights)
