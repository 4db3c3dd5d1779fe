"""What rock a steady test feels: the zone and some of what lies above and below it.

Each depth counts by its share of the head that is lost there. In even ground that is a known sum
over the field of a line, and a change of K at a depth changes the K that is seen by that share.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoprofile.hydraulics.tests import Array

RADII, FAR = 80, 60.0  # rings of the sum; [-] zone lengths that stand for infinitely far
POINTS = 3  # of a cell
BEYOND_POWER = 0.5  # [-] of the mean of K out there, and of that mean with the zone's own


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


@dataclass(frozen=True, eq=False)
class Rock:
    """Where the zones of a hole lie and what they feel: `inside`, `beyond` (n, m) with rows that
    sum to 1, `share` (n,) of what lies beyond; all [-].
    """

    inside: Array
    beyond: Array
    share: Array


def rock_of(top: Array, bottom: Array, edges: Array, radius: float, *, kv_kh: float) -> Rock:
    """Weights of the cells for every zone.

    Parameters
    ----------
    top, bottom : Array, shape (n,) [m]
        Of the zones, along the hole.
    edges : Array, shape (m + 1,) [m]
        Of the cells, rising.
    radius : float [m]
        Of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    Rock [-]
        Of all zones.
    """
    both = np.minimum(bottom[:, None], edges[1:]) - np.maximum(top[:, None], edges[:-1])
    within = np.maximum(both, 0.0)
    inside = within / within.sum(1, keepdims=True)
    zones = zip(top.tolist(), bottom.tolist(), strict=True)
    all_around = np.stack([felt(a, b, edges, radius, kv_kh=kv_kh) for a, b in zones])
    beyond = np.where(inside > 0, 0.0, all_around)
    share = beyond.sum(1)
    return Rock(inside, beyond / share[:, None], share)


def seen(rock: Rock, share: Array, y: Array) -> tuple[Array, Array]:
    """Ln of the K that every test sees, and its slopes by the cells.

    Parameters
    ----------
    rock : Rock [-]
        Of n zones.
    share : Array, shape (n,) [-]
        Of what lies beyond each zone.
    y : Array, shape (c, m) [-]
        Ln K of the cells, c times.

    Returns
    -------
    tuple of Array, shape (c, n) and (c, n, m) [-]
        The mean of K inside, that of its root beyond, both in one by the latter power.
    """
    top = y.max(1, keepdims=True)
    other = np.exp(BEYOND_POWER * (y - top))
    part = other ** (1.0 / BEYOND_POWER)
    whole, beyond = part @ rock.inside.T, other @ rock.beyond.T
    zone, far = np.log(whole) + top, np.log(beyond) / BEYOND_POWER + top
    ahead = share * np.exp(BEYOND_POWER * (far - zone))
    both = 1.0 - share + ahead
    slope = rock.inside * part[:, None, :]
    slope *= ((1.0 - share) / (both * whole))[..., None]
    rest = rock.beyond * other[:, None, :]
    rest *= (ahead / (both * beyond))[..., None]
    slope += rest
    return zone + np.log(both) / BEYOND_POWER, slope


def inside_of(rock: Rock, y: Array) -> tuple[Array, Array]:
    """Ln of the mean K of the cells of every zone, and its slopes by the cells.

    Parameters
    ----------
    rock : Rock [-]
        Of n zones.
    y : Array, shape (c, m) [-]
        Ln K of the cells, c times.

    Returns
    -------
    tuple of Array, shape (c, n) and (c, n, m) [-]
        By the length of each cell in the zone.
    """
    top = y.max(1, keepdims=True)
    part = np.exp(y - top)
    whole = part @ rock.inside.T
    return np.log(whole) + top, rock.inside * part[:, None, :] / whole[..., None]
