"""Covariance models, all of one form: a cubic times an exponential, zero beyond a cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.support import gauss_rule

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Covariance:
    """Correlation rho(h) = (1 + c1 h + c2 h^2 + c3 h^3) exp(-decay h), h held at `cut`.

    h [-] is distance in correlation lengths; at `cut` the correlation and its slope are zero (to
    1e-300 where it only fades). One form serves every model, so one kernel does too.
    """

    name: str
    c1: float
    c2: float
    c3: float
    decay: float
    cut: float

    @property
    def shape(self) -> Array:
        """The five numbers as the kernels take them, shape (5,) [-]."""
        return np.array([self.c1, self.c2, self.c3, self.decay, self.cut])

    def correlation(self, distance: Array) -> Array:
        """Correlation at a distance.

        Parameters
        ----------
        distance : Array [-]
            In correlation lengths.

        Returns
        -------
        Array [-]
            1 at no distance.
        """
        return self._both(distance)[0]

    def slope(self, distance: Array) -> Array:
        """Derivative of the correlation by distance.

        Parameters
        ----------
        distance : Array [-]
            In correlation lengths.

        Returns
        -------
        Array [-]
            Zero or negative.
        """
        return self._both(distance)[1]

    def within(self, length: Array) -> tuple[Array, Array]:
        """Mean correlation between all pairs of points of a straight interval, and its slope.

        Parameters
        ----------
        length : Array, shape (n,) [-]
            Interval length in correlation lengths.

        Returns
        -------
        tuple of Array, shape (n,) [-]
            Mean correlation, and its derivative by length.

        Notes
        -----
        2 int_0^1 (1 - t) rho(l t) dt, which is smooth, where Gauss points over both ends of the
        pair meet the cusp at h = 0. Exponential in closed form: 2 (l - 1 + exp(-l)) / l^2.

        References
        ----------
        Journel & Huijbregts (1978), auxiliary functions (from memory).
        """
        size = np.maximum(np.asarray(length, dtype=float), 1e-300)
        node, weight = gauss_rule(24)
        # Beyond 40 correlation lengths nothing is left to integrate.
        end = np.minimum(1.0, min(self.cut, 40.0) / size)[:, None]
        t = end * node
        share = 2.0 * end * weight * (1.0 - t)
        rho, slope = self._both(size[:, None] * t)
        return (share * rho).sum(1), (share * t * slope).sum(1)

    def _both(self, distance: Array) -> tuple[Array, Array]:
        """Correlation and its slope, which share their exponential."""
        h = np.minimum(distance, self.cut)
        cubic = 1.0 + h * (self.c1 + h * (self.c2 + h * self.c3))
        rise = self.c1 + h * (2.0 * self.c2 + h * 3.0 * self.c3)
        fading = np.exp(-self.decay * h)
        return cubic * fading, (rise - self.decay * cubic) * fading

    def within_parts(self, length: Array, shares: Array) -> tuple[Array, Array]:
        """The same for intervals whose parts know nothing of each other.

        Parameters
        ----------
        length : Array, shape (n,) [-]
            Interval length in correlation lengths.
        shares : Array, shape (n, p) [-]
            Of each interval in each part, adding to 1.

        Returns
        -------
        tuple of Array, shape (n,) [-]
            Mean correlation, and its derivative by length.
        """
        value, slope = np.zeros(len(length)), np.zeros(len(length))
        for share in shares.T:
            some = share > 0.0
            s = share[some]
            inner, by_length = self.within(s * length[some])
            value[some] += s * s * inner
            slope[some] += s * s * s * by_length
        return value, slope


# exp(-700) is 1e-304: nothing, and still a normal number for the compiled exponential.
FADED = 700.0
EXPONENTIAL = Covariance("exponential", 0.0, 0.0, 0.0, 1.0, FADED)
SPHERICAL = Covariance("spherical", -1.5, 0.0, 0.5, 0.0, 1.0)
MATERN_32 = Covariance("matern 3/2", sqrt(3.0), 0.0, 0.0, sqrt(3.0), FADED / sqrt(3.0))
MATERN_52 = Covariance("matern 5/2", sqrt(5.0), 5.0 / 3.0, 0.0, sqrt(5.0), FADED / sqrt(5.0))

COVARIANCES: Mapping[str, Covariance] = {
    model.name: model for model in (EXPONENTIAL, SPHERICAL, MATERN_32, MATERN_52)
}
