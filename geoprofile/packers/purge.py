"""Purging and sampling an isolated zone: volumes, the rate the rock gives, the time it takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geoprofile.packers.ranges import log_ratio

HABIT = 3.0  # [-] zone volumes; a habit and no proof that foreign water is gone


@dataclass(frozen=True)
class Purge:
    """Volumes to pump before a sample [m3]; `total_m3` is the target."""

    zone_m3: float
    dead_m3: float
    pipe_m3: float
    invaded_m3: float
    total_m3: float

    def time_s(self, rate_m3_s: float) -> float:
        """Time [s] that the target takes at a rate [m3/s]; infinite at no rate."""
        return self.total_m3 / rate_m3_s if rate_m3_s > 0 else math.inf


def zone_volume(hole_diameter_m: float, rod_diameter_m: float, length_m: float) -> float:
    """Water in the zone around the tool.

    Parameters
    ----------
    hole_diameter_m, rod_diameter_m, length_m : float [m]
        Of the hole, of what stands in the zone, and of the zone.

    Returns
    -------
    float [m3]
        pi/4 (d_hole^2 - d_rod^2) L.

    References
    ----------
    Geometry; common practice, no source.

    Examples
    --------
    96 mm, 33.4 mm and 1.5 m give 9.543 L.
    """
    return math.pi / 4.0 * (hole_diameter_m**2 - rod_diameter_m**2) * length_m


def pipe_volume(inner_diameter_m: float, length_m: float) -> float:
    """Water in a pipe.

    Parameters
    ----------
    inner_diameter_m, length_m : float [m]
        Of the pipe.

    Returns
    -------
    float [m3]
        pi/4 d^2 L.

    References
    ----------
    Geometry; common practice, no source.

    Examples
    --------
    45 m of 26.6 mm give 25.01 L.
    """
    return math.pi / 4.0 * inner_diameter_m**2 * length_m


def invaded_volume(cross_flow_m3_s: float, open_s: float) -> float:
    """Foreign water that entered the zone while the hole stood open.

    Parameters
    ----------
    cross_flow_m3_s : float [m3/s]
        Flow along the open hole into the zone.
    open_s : float [s]
        Time since drilling during which the hole stood open.

    Returns
    -------
    float [m3]
        Their product.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    0.2 L/min for three days give 864 L.
    """
    return cross_flow_m3_s * open_s


def purge_target(
    zone_m3: float,
    *,
    dead_m3: float = 0.0,
    pipe_m3: float = 0.0,
    invaded_m3: float = 0.0,
    volumes: float = HABIT,
) -> Purge:
    """Volume to pump before a sample is taken.

    Parameters
    ----------
    zone_m3, dead_m3, pipe_m3, invaded_m3 : float [m3]
        Water in the zone, in dead spaces of the tool, in the pipe to surface (counted once, the
        intake being in the zone) and foreign water to be brought back.
    volumes : float [-]
        Times that zone and dead space are changed.

    Returns
    -------
    Purge [m3]
        n (V_zone + V_dead) + V_pipe + V_inv.

    Notes
    -----
    Steady readings do not prove that foreign water is gone: ask for the volume and for steady
    readings.

    References
    ----------
    Common practice, no source.
    """
    total = volumes * (zone_m3 + dead_m3) + pipe_m3 + invaded_m3
    return Purge(zone_m3, dead_m3, pipe_m3, invaded_m3, total)


def feasible_rate(
    k_m_per_s: float, length_m: float, hole_radius_m: float, *, drawdown_m: float
) -> float:
    """Steady rate that the rock gives at a drawdown.

    Parameters
    ----------
    k_m_per_s : float [m/s]
        Expected K.
    length_m, hole_radius_m, drawdown_m : float [m]
        Length of the zone, radius of the hole, and drawdown; the level stays above the packer
        element.

    Returns
    -------
    float [m3/s]
        2 pi K L s / P.

    References
    ----------
    Hvorslev (1951), case 8, from memory.

    Examples
    --------
    1e-7 m/s, 1.5 m, 48 mm and 5 m give 0.0821 L/min.
    """
    ratio = log_ratio(length_m, hole_radius_m)
    return 2.0 * math.pi * k_m_per_s * length_m * drawdown_m / ratio
