"""Which pipe makes an expected K measurable by a slug test."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geoprofile.packers.ranges import slug_range


def riser_bounds(
    k_m_per_s: float,
    length_m: float,
    hole_radius_m: float,
    *,
    longest_s: float,
    interval_s: float,
    water_column_m: float | None = None,
) -> tuple[float, float]:
    """Smallest and largest pipe radius with which a slug test measures a K.

    Parameters
    ----------
    k_m_per_s : float [m/s]
        Expected K.
    length_m, hole_radius_m : float [m]
        Length of the zone and radius of the hole.
    longest_s, interval_s : float [s]
        Time that the crew has, and the logger interval.
    water_column_m : float [m] or None
        Moving column of water.

    Returns
    -------
    tuple of float [m]
        Radii at which `slug_range` ends at this K.

    References
    ----------
    Own inversion of the range.
    """
    unit = slug_range(
        1.0,
        length_m,
        hole_radius_m,
        longest_s=longest_s,
        interval_s=interval_s,
        water_column_m=water_column_m,
    )
    return math.sqrt(k_m_per_s / unit.high_m_per_s), math.sqrt(k_m_per_s / unit.low_m_per_s)


def riser_change(
    riser_m: float, bounds_m: tuple[float, float], *, on_hand_m: Sequence[float] = ()
) -> float | None:
    """The smallest change of pipe radius that makes a K measurable.

    Parameters
    ----------
    riser_m : float [m]
        Radius of the pipe in use.
    bounds_m : tuple of float [m]
        Smallest and largest radius that would do.
    on_hand_m : sequence of float [m]
        Radii of pipes on hand; empty for any radius.

    Returns
    -------
    float [m] or None
        The radius to change to: the one in use when it will do, None when none on hand does.

    References
    ----------
    Common practice, no source.
    """
    low, high = bounds_m
    if low <= riser_m <= high:
        return riser_m
    if not on_hand_m:
        return min(max(riser_m, low), high)
    fitting = [radius for radius in on_hand_m if low <= radius <= high]
    return min(fitting, key=lambda radius: abs(radius - riser_m), default=None)
