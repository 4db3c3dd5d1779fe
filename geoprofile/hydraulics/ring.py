"""What a ring of another conductivity round the hole adds to P, with the storage of the ring.

Late it adds s = (1/f - 1) ln(rs/rw) (Hawkins 1956); early, or in a shut-in interval where storage
rules, the readings feel only the ring. Along each ray of a contour it depends on q = rw^2 Ss p / K
alone, so it is tabulated once for all tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ive, kve

from geoprofile.hydraulics.equal_knots import Splines
from geoprofile.hydraulics.laplace import Complex, rays
from geoprofile.hydraulics.tests import Array

RADIUS = 2.0  # [-] of the ring over the hole: its K and radius act through s almost alone
LOW, HIGH, PER_DECADE = -21.0, 9.0, 4  # range of ln|q|


@dataclass(frozen=True, eq=False)
class Ring:
    """`skin` s [-] and its spline along every ray, as a function of ln|q|."""

    skin: float
    spline: Splines

    def at(self, log_q: Array, furthest: float) -> Complex:
        """Added to P at ln|q| (n, rays) [-], of which none lies beyond `furthest`."""
        out = self.spline.at(log_q)
        if furthest > HIGH:
            out *= np.exp(-0.5 * np.maximum(log_q - HIGH, 0.0))
        return out


@lru_cache(maxsize=16)
def ring(f: float, nodes: int) -> Ring:
    """A ring of f K out to twice the hole radius.

    Parameters
    ----------
    f : float [-]
        Its K over that of the ground.
    nodes : int [-]
        Points of the contour.

    Returns
    -------
    Ring [-]
        Tabulated.
    """
    log = np.linspace(LOW, HIGH, int((HIGH - LOW) / math.log(10.0) * PER_DECADE) + 1)
    value = added((np.exp(log)[:, None] * rays(nodes).turn).ravel(), f).reshape(log.size, nodes)
    return Ring((1.0 / f - 1.0) * math.log(RADIUS), Splines.through(log, value))


def added(q: Complex, f: float, *, radius: float = RADIUS) -> Complex:
    """P of radial flow through ring and ground less P without the ring.

    Parameters
    ----------
    q : Array, shape (n,) complex [-]
        rw^2 Ss p / K of the ground.
    f : float [-]
        K of the ring over that of the ground.
    radius : float [-]
        Of the ring over that of the hole.

    Returns
    -------
    Array, shape (n,) complex [-]
        Tends to (1/f - 1) ln(radius) as q tends to 0.

    Notes
    -----
    h = A K0(a r) + B I0(a r) in the ring, K0(b r) beyond, heads and flows equal at its edge;
    a = sqrt(q/f), b = sqrt(q), both scaled against overflow.

    References
    ----------
    Own derivation; the composite problem of Moench and Hsieh (1985), from memory.
    """
    a, b = np.sqrt(q / f), np.sqrt(q)
    far, ratio = a * radius, b / (f * a)
    k0b, k1b = kve(0, b * radius), kve(1, b * radius)
    one = k0b * ive(1, far) + ratio * k1b * ive(0, far)
    two = k0b * kve(1, far) - ratio * k1b * kve(0, far)
    fade = np.exp(a.real - far.real - far + a)
    head = one * kve(0, a) + two * ive(0, a) * fade
    flow = f * a * (one * kve(1, a) - two * ive(1, a) * fade)
    return np.asarray(head / flow - kve(0, b) / (b * kve(1, b)))
