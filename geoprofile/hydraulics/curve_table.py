"""P of one geometry along the rays of a contour, tabulated once so that a fit is quick.

P depends on q = 2 alpha s alone. On the contour s = point / tau, so a spline per point along
ln(alpha / tau) serves every alpha and every time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geoprofile.hydraulics.bessel import sum_of_modes
from geoprofile.hydraulics.equal_knots import Splines
from geoprofile.hydraulics.laplace import contour
from geoprofile.hydraulics.recovery import Modes
from geoprofile.hydraulics.ring import Ring
from geoprofile.hydraulics.tests import Array

NODES = 10  # [-] 1e-6 and better, finer than any reading
PER_DECADE = 5  # [-] points of the spline
Q_HIGH = 1.0  # [-] |q| above which flow is radial but for the ends of the interval
MARGIN = 0.02  # [-] |q| over the first wave squared below which P is steady


@dataclass(frozen=True, eq=False)
class Table:
    """P along the rays: `point` and `weight` of the contour, a spline, its range in ln(q);
    `ring` is a skin, or None.
    """

    point: NDArray[np.complex128]
    weight: NDArray[np.complex128]
    spline: Splines | None
    low: float
    high: float
    ring: Ring | None = None

    def recovery(self, tau: Array, alpha: float) -> Array:
        """H/H0 at tau (n,) [-] for one alpha [-]."""
        return np.asarray(self.recoveries(tau, np.array([alpha]))[0])

    def recoveries(self, tau: Array, alpha: Array) -> Array:
        """H/H0 at tau (n,) [-] for some alpha (c,) [-], shape (c, n)."""
        scale = (2.0 * alpha[:, None] / tau).ravel()
        p = self._log_ratio(scale)
        if self.ring is not None:
            p = p + self.ring.at(np.log(scale)[:, None] + np.log(np.abs(self.point)))
        p = p.reshape(alpha.size, tau.size, -1)
        s = self.point / tau[:, None]
        return np.asarray((p / (1.0 + s * p) @ self.weight).real / tau)

    def flow(self, scaled_time: Array) -> Array:
        """G of Q = 2 pi L K H G at td = K t / (Ss rw^2) (n,) [-], the head being held."""
        p = self._log_ratio(1.0 / scaled_time)
        s = self.point / scaled_time[:, None]
        return np.asarray((1.0 / (s * p) @ self.weight).real / scaled_time)

    def _log_ratio(self, scale: Array) -> NDArray[np.complex128]:
        """P on every ray, shape (n, nodes) [-]; scale is 2 alpha / tau."""
        log = np.log(scale)
        size = self.point / np.abs(self.point)
        reach = log[:, None] + np.log(np.abs(self.point))
        if self.spline is None:
            return _radial((np.exp(reach) * size).ravel()).reshape(reach.shape)
        inside = np.clip(reach, self.low, self.high)
        p = self.spline.at(inside)
        above = reach > self.high
        if not above.any():
            return p
        # beyond the table the ends of the interval matter less and less, as 1/sqrt(q)
        edge = _radial(np.exp(self.high) * size)
        missing = (1.0 - p / edge) * np.exp(0.5 * (self.high - reach))
        whole = _radial((np.exp(reach) * size)[above])
        p[above] = whole * (1.0 - missing[above])
        return p


def _radial(q: NDArray[np.complex128]) -> NDArray[np.complex128]:
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
    point, weight = contour(NODES)
    if modes.wave.size == 1 and modes.wave[0] == 0.0:
        return Table(point, weight, None, 0.0, 0.0)
    first = modes.wave[0] if modes.wave[0] > 0 else modes.wave[1] * 1e-4
    low, high = np.log(MARGIN * first**2), np.log(Q_HIGH)
    log = np.linspace(low, high, int(np.ceil((high - low) / np.log(10.0) * PER_DECADE)) + 1)
    ray = point / np.abs(point)
    q = (np.exp(log)[:, None] * ray).ravel()
    p = sum_of_modes(q, modes.weight, modes.wave, modes.tail, 1e-3) * modes.ends.share(q)
    p = p.reshape(log.size, ray.size)
    return Table(point, weight, Splines.through(log, p), float(low), float(high))
