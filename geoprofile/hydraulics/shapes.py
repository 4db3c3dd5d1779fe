"""Shape factors: how the geometry of an interval turns head into flow, Q = F K H.

The log ratio P = 2 pi L / F is the effective ln(Re/rw); P and F are two names of one thing.
"""

from __future__ import annotations

import math

import numpy as np

CAP = 6.0  # [-] largest ln((D - Lw)/rw) in the water-table formula


def sphere(diameter: float) -> float:
    """Shape factor of a spherical cavity in infinite ground (case 1).

    Parameters
    ----------
    diameter : float [m]
        Of the cavity.

    Returns
    -------
    float [m]
        F = 2 pi D.

    References
    ----------
    Hvorslev (1951), case 1, from memory; exact potential theory.
    """
    return 2.0 * math.pi * diameter


def flat_end(diameter: float) -> float:
    """Shape factor of a flat open end of casing in uniform ground (case 4).

    Parameters
    ----------
    diameter : float [m]
        Of the opening.

    Returns
    -------
    float [m]
        F = 2.75 D.

    References
    ----------
    Hvorslev (1951), case 4, from memory.
    """
    return 2.75 * diameter


def interval_at_upper_boundary(length: float, radius: float, *, kv_kh: float = 1.0) -> float:
    """Shape factor of an interval that starts at an impermeable upper boundary (case 7).

    Parameters
    ----------
    length, radius : float [m]
        Length of the interval and radius of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    float [m]
        F for the horizontal K.

    References
    ----------
    Hvorslev (1951), case 7, from memory.
    """
    ratio = length / (radius * math.sqrt(kv_kh))
    return 2.0 * math.pi * length / math.asinh(ratio)


def interval_in_ground(length: float, radius: float, *, kv_kh: float = 1.0) -> float:
    """Shape factor of an isolated interval in uniform ground (case 8, the packer case).

    Parameters
    ----------
    length, radius : float [m]
        Length of the interval and radius of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    float [m]
        F for the horizontal K.

    Notes
    -----
    F = 2 pi L / asinh(m L / (2 rw)), m = sqrt(Kh/Kv). The potential in the middle of a line source
    stands for the mean head, so K is 3 to 8 % high.

    References
    ----------
    Hvorslev (1951), case 8, from memory.

    Examples
    --------
    L 1.5 m in a hole of 48 mm radius: P = 2 pi L / F = 3.443.
    """
    ratio = length / (2.0 * radius * math.sqrt(kv_kh))
    return 2.0 * math.pi * length / math.asinh(ratio)


def log_ratio_mean_head(length: float, radius: float, *, kv_kh: float = 1.0) -> float:
    """P of a uniform-flux line in infinite ground when the head is averaged along it.

    Parameters
    ----------
    length, radius : float [m]
        Length of the interval and radius of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    float [-]
        P = asinh(x) - sqrt(1 + 1/x^2) + 1/x with x = L/(rw sqrt(Kv/Kh)).

    References
    ----------
    Own derivation from the line potential; tends to ln(2 L/rw) - 1.
    """
    x = length / (radius * math.sqrt(kv_kh))
    return math.asinh(x) - math.sqrt(1.0 + 1.0 / x**2) + 1.0 / x


def bouwer_rice_coefficients(ratio: float) -> tuple[float, float, float]:
    """Chart values A, B and C of the water-table formula as polynomials of Le/rw.

    Parameters
    ----------
    ratio : float [-]
        Le/rw, about 4 to 1500.

    Returns
    -------
    tuple of float [-]
        A, B and C.

    References
    ----------
    Van Rooy (1988), printed in Butler (1998); from memory.

    Examples
    --------
    Le/rw = 50 gives 3.0492, 0.4880, 2.5867.
    """
    a = (1.4720, 3.537e-2, -8.148e-5, 1.028e-7, -6.484e-11, 1.573e-14)
    b = (0.2372, 5.151e-3, -2.682e-6, -3.491e-10, 4.738e-13)
    c = (0.7290, 3.993e-2, -5.743e-5, 3.858e-8, -9.659e-12)
    x = min(max(ratio, 4.0), 1500.0)
    return (
        float(np.polynomial.polynomial.polyval(x, a)),
        float(np.polynomial.polynomial.polyval(x, b)),
        float(np.polynomial.polynomial.polyval(x, c)),
    )


def bouwer_rice_log_ratio(
    length: float, radius: float, *, below_water: float, saturated: float, kv_kh: float = 1.0
) -> float:
    """ln(Re/rw) under a water table that does not move.

    Parameters
    ----------
    length, radius : float [m]
        Open length Le below the water table and radius of the hole rw.
    below_water : float [m]
        Lw, water table to the bottom of the interval; above rw.
    saturated : float [m]
        D, water table to the tight base; infinity when it is deep or unknown.
    kv_kh : float [-]
        Vertical over horizontal K; scales rw (Zlotnik 1994).

    Returns
    -------
    float [-]
        ln(Re/rw).

    Raises
    ------
    ValueError
        When Lw is not above rw: the formula has no meaning there.

    Notes
    -----
    The gap under the interval counts as none below one rw; ln((D - Lw)/rw) is capped at 6. Good to
    10 % of the authors' analogue when Le > 0.4 Lw, to 25 % when Le is far shorter; against
    potential theory K comes out 15 to 25 % low.

    References
    ----------
    Bouwer and Rice (1976); Bouwer (1989); Zlotnik (1994); from memory.
    """
    scaled = radius * math.sqrt(kv_kh)
    if below_water <= scaled * (1.0 + 1e-9):
        raise ValueError("the interval must reach more than one hole radius below the water table")
    a, b, c = bouwer_rice_coefficients(length / scaled)
    gap = saturated - below_water
    first = 1.1 / math.log(below_water / scaled)
    if gap <= scaled:
        return 1.0 / (first + c * scaled / length)
    log_gap = min(math.log(gap / scaled), CAP) if math.isfinite(gap) else CAP
    return 1.0 / (first + (a + b * log_gap) * scaled / length)
