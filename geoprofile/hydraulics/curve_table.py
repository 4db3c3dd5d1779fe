"""P of one geometry along the rays of a contour, tabulated once so that a fit is quick.

P depends on q = 2 alpha s alone. On the contour s = point / tau, so a spline per point along
ln(alpha / tau) serves every alpha and every time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from geoprofile.hydraulics.bessel import sum_of_modes
from geoprofile.hydraulics.equal_knots import Splines
from geoprofile.hydraulics.laplace import Complex, Rays, rays
from geoprofile.hydraulics.recovery import Modes
from geoprofile.hydraulics.ring import Ring
from geoprofile.hydraulics.tests import Array

NODES = 10  # [-] 1e-6 and better, finer than any reading
PER_DECADE = 5  # [-] points of the spline
Q_HIGH = 1.0  # [-] |q| above which flow is radial but for the ends of the interval
MARGIN = 0.02  # [-] |q| over the first wave squared below which P is steady


@dataclass(frozen=True, eq=False)
class Table:
    """P along the `rays` of a contour: a spline of ln|q|, where it ends and P of radial flow there;
    no spline where flow is radial everywhere. `ring` is a skin, or None.
    """

    rays: Rays
    spline: Splines | None
    high: float
    radial: Complex
    ring: Ring | None = None

    def recovery(self, tau: Array, alpha: float) -> Array:
        """H/H0 at tau (n,) [-] for one alpha [-]."""
        return np.asarray(self.recoveries(tau, np.array([alpha]))[0])

    def recoveries(self, tau: Array, alpha: Array) -> Array:
        """H/H0 at tau (n,) [-] for some alpha (c,) [-], shape (c, n)."""
        scale = (2.0 * alpha[:, None] / tau).ravel()
        p = self._log_ratio(scale).reshape(alpha.size, tau.size, -1)
        below = self.rays.over(tau) * p
        below += 1.0
        p /= below
        return np.asarray((p @ self.rays.weight).real / tau)

    def flow(self, scaled_time: Array) -> Array:
        """G of Q = 2 pi L K H G at td = K t / (Ss rw^2) (n,) [-], the head being held."""
        p = self._log_ratio(1.0 / scaled_time)
        s = self.rays.over(scaled_time)
        return np.asarray((1.0 / (s * p) @ self.rays.weight).real / scaled_time)

    def _log_ratio(self, scale: Array) -> Complex:
        """P on every ray, shape (n, nodes) [-]; scale is 2 alpha / tau."""
        reach = np.log(scale)[:, None] + self.rays.log_size
        furthest = math.log(float(scale.max())) + self.rays.furthest
        if self.spline is None:
            p = _radial((np.exp(reach) * self.rays.turn).ravel()).reshape(reach.shape)
        else:
            p = self.spline.at(reach)
            if furthest > self.high:
                self._beyond(p, reach)
        if self.ring is not None:
            p += self.ring.at(reach, furthest)
        return p

    def _beyond(self, p: Complex, reach: Array) -> None:
        """Put P in beyond the spline: the ends of the interval matter less, as 1/sqrt(q)."""
        row, ray = np.nonzero(reach > self.high)
        there = reach[row, ray]
        missing = (1.0 - p[row, ray] / self.radial[ray]) * np.exp(0.5 * (self.high - there))
        p[row, ray] = _radial(np.exp(there) * self.rays.turn[ray]) * (1.0 - missing)


def _radial(q: Complex) -> Complex:
    """K0(x)/(x K1(x)) with x^2 = q."""
    none = np.zeros((2, 3))
    return np.asarray(sum_of_modes(q, np.ones(1), np.zeros(1), none, 1e-3))


@lru_cache(maxsize=32)  # repeats of a test share their geometry
def tabulate(modes: Modes) -> Table:
    """Tabulate one geometry.

    Parameters
    ----------
    modes : Modes [-]
        Radial, or with a fixed head somewhere, or a closed layer.

    Returns
    -------
    Table [-]
        Its `recovery(tau, alpha)` agrees with the direct sum to 1e-5.
    """
    rays_of = rays(NODES)
    edge = _radial(Q_HIGH * rays_of.turn)
    if modes.wave.size == 1 and modes.wave[0] == 0.0:
        return Table(rays_of, None, 0.0, edge)
    first = modes.wave[0] if modes.wave[0] > 0 else modes.wave[1] * 1e-4
    low, high = np.log(MARGIN * first**2), np.log(Q_HIGH)
    log = np.linspace(low, high, int(np.ceil((high - low) / np.log(10.0) * PER_DECADE)) + 1)
    q = (np.exp(log)[:, None] * rays_of.turn).ravel()
    p = sum_of_modes(q, modes.weight, modes.wave, modes.tail, 1e-3) * modes.ends.share(q)
    p = p.reshape(log.size, -1)
    return Table(rays_of, Splines.through(log, p), float(high), edge)
