"""What rock a steady test feels: the zone and some of what lies above and below it.

Each depth counts by its share of the head that is lost there. In even ground that is a known sum
over the field of a line, and a change of K at a depth changes the K that is seen by that share.
"""

from __future__ import annotations

import numpy as np

from geoprofile.hydraulics.tests import Array

RADII, FAR = 80, 60.0  # rings of the sum; [-] zone lengths that stand for infinitely far
POINTS = 3  # of a cell


def felt(top: float, bottom: float, edges: Array, radius: float, *, kv_kh: float) -> Array:
    """Share of each cell in what one test sees.

    Parameters
    ----------
    top, bottom : float [m]
        Of the zone, along the hole.
    edges : Array, shape (m + 1,) [m]
        Of the cells, rising.
    radius : float [m]
        Of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    Array, shape (m,) [-]
        Summing to 1; rock beyond the cells is left out.

    Notes
    -----
    A line of even flow from a to b has the gradients (1/Ra - 1/Rb) along it and (ub/Rb - ua/Ra)/r
    across, u the distances to its ends, R the slant ones, depths stretched by sqrt(Kh/Kv). The
    loss of a depth is the integral of their squares over r dr from the wall out. With one head
    along it, as in a hole, a zone feels some 3 points less of itself: .73 for .77 with 1 m of even
    ground (finite volumes).

    References
    ----------
    Own derivation; the slope of the conductance of a linear system by the conductivity of a part
    is the energy lost in it.

    Examples
    --------
    A zone of 1 m in a hole of 96 mm and even ground: 77 % of what it sees lies in the zone.
    """
    stretch = kv_kh**-0.5
    length = (bottom - top) * stretch
    log_r = np.linspace(np.log(radius), np.log(radius + FAR * length), RADII)
    r = np.exp(log_r)
    x, weight = np.polynomial.legendre.leggauss(POINTS)
    half = 0.5 * np.diff(edges)
    z = 0.5 * (edges[1:] + edges[:-1])[:, None] + half[:, None] * x
    above, below = (z - top)[..., None] * stretch, (z - bottom)[..., None] * stretch
    near_top, near_bottom = (1.0 / np.sqrt(u * u + r * r) for u in (above, below))
    along = near_top - near_bottom
    across = (below * near_bottom - above * near_top) / r
    # by the trapezoid over ln r
    lost = (along * along + across * across) @ (r * r * _trapezoid(log_r))
    share = (lost @ weight) * half
    return np.asarray(share / share.sum())


def _trapezoid(x: Array) -> Array:
    """Weights of the values at x (n,) in the integral by trapezoids."""
    half = 0.5 * np.diff(x)
    return np.asarray(np.append(half, 0.0) + np.append(0.0, half))
