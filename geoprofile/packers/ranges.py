"""How long a test takes, and which K a set-up can measure at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geoprofile.hydraulics import shapes
from geoprofile.packers.equipment import DENSITY, GRAVITY

USABLE = 0.15  # [-] normalised head to which a recovery must run at least
LAGS = 1.9  # [-] time lags until then, ln(1 / 0.15)
FEWEST = 5  # [-] readings wanted within the basic time lag


@dataclass(frozen=True)
class Range:
    """The K that a method measures in a set-up, both ends in m/s."""

    method: str
    low_m_per_s: float
    high_m_per_s: float

    def holds(self, k_m_per_s: float) -> bool:
        """Whether a K [m/s] lies in the range."""
        return self.low_m_per_s <= k_m_per_s <= self.high_m_per_s


def log_ratio(length_m: float, hole_radius_m: float) -> float:
    """P = 2 pi L / F of an isolated interval in uniform ground.

    Parameters
    ----------
    length_m, hole_radius_m : float [m]
        Length of the zone and radius of the hole.

    Returns
    -------
    float [-]
        asinh(L / (2 rw)).

    References
    ----------
    Hvorslev (1951), case 8, from memory.

    Examples
    --------
    1.5 m in a hole of 48 mm radius gives 3.443.
    """
    return 2.0 * math.pi * length_m / shapes.interval_in_ground(length_m, hole_radius_m)


def time_lag(k_m_per_s: float, riser_m: float, length_m: float, hole_radius_m: float) -> float:
    """Time for the displacement to fall to 37 %.

    Parameters
    ----------
    k_m_per_s : float [m/s]
        Expected K.
    riser_m, length_m, hole_radius_m : float [m]
        Radius of the pipe in which the level moves, length of the zone, radius of the hole.

    Returns
    -------
    float [s]
        T0 = rc^2 P / (2 L K).

    References
    ----------
    Hvorslev (1951), from memory.

    Examples
    --------
    25.4 mm, 1 m, 48 mm and 1e-6 m/s give 980 s.
    """
    ratio = log_ratio(length_m, hole_radius_m)
    return riser_m**2 * ratio / (2.0 * length_m * k_m_per_s)


def time_to(share: float, lag_s: float) -> float:
    """Time to recover to a share of the initial displacement.

    Parameters
    ----------
    share : float [-]
        H/H0, between 0 and 1.
    lag_s : float [s]
        Basic time lag.

    Returns
    -------
    float [s]
        T0 ln(1 / share).

    References
    ----------
    Hvorslev (1951), from memory.

    Examples
    --------
    To 15 % takes 1.9 time lags.
    """
    return lag_s * math.log(1.0 / share)


def slug_range(
    riser_m: float,
    length_m: float,
    hole_radius_m: float,
    *,
    longest_s: float,
    interval_s: float,
    water_column_m: float | None = None,
) -> Range:
    """K that a falling- or rising-head test can measure.

    Parameters
    ----------
    riser_m, length_m, hole_radius_m : float [m]
        Radius of the pipe in which the level moves, length of the zone, radius of the hole.
    longest_s, interval_s : float [s]
        Time that the crew has, and the logger interval.
    water_column_m : float [m] or None
        Moving column of water; above the overdamped limit another analysis is needed.

    Returns
    -------
    Range [m/s]
        From 'reaches 15 % in time' to 'five readings within the time lag', overdamped.

    References
    ----------
    Hvorslev (1951) for T0; the limits are common practice, no source.

    Examples
    --------
    25.4 mm, 1.5 m, 48 mm, 8 h and 0.5 s give 4.885e-8 to 2.962e-4 m/s.
    """
    shape = riser_m**2 * log_ratio(length_m, hole_radius_m) / (2.0 * length_m)  # [m2]
    low = LAGS * shape / longest_s
    high = shape / (FEWEST * interval_s)
    if water_column_m is not None and water_column_m > 0:
        high = min(high, 0.5 * shape * math.sqrt(GRAVITY / water_column_m))
    return Range("slug test", low, high)


def pulse_radius(volume_m3: float, compressibility_per_pa: float) -> float:
    """Radius of the pipe that would store as much as a shut-in system does.

    Parameters
    ----------
    volume_m3 : float [m3]
        Shut-in water.
    compressibility_per_pa : float [1/Pa]
        Of the whole system: water, packer element and lines; measured, never that of water alone.

    Returns
    -------
    float [m]
        sqrt(V C rho g / pi); use it in place of the riser in `slug_range`.

    References
    ----------
    Bredehoeft and Papadopulos (1980), from memory.

    Examples
    --------
    0.01 m3 with 2e-9 1/Pa: 0.25 mm.
    """
    return math.sqrt(volume_m3 * compressibility_per_pa * DENSITY * GRAVITY / math.pi)


def constant_head_range(
    length_m: float,
    hole_radius_m: float,
    *,
    net_head_m: float,
    flow_floor_m3_s: float,
    flow_most_m3_s: float,
) -> Range:
    """K that a constant-head injection can measure.

    Parameters
    ----------
    length_m, hole_radius_m : float [m]
        Length of the zone and radius of the hole.
    net_head_m : float [m]
        Head in the zone above static, friction taken off at the largest flow.
    flow_floor_m3_s, flow_most_m3_s : float [m3/s]
        Smallest flow told from the leak of the string (blank test), and the largest the pump gives
        at that head.

    Returns
    -------
    Range [m/s]
        Q P / (2 pi L H) at both flows.

    References
    ----------
    Hvorslev (1951), case 8, from memory; common practice for the limits, no source.

    Examples
    --------
    A 1.5 m zone in a 96 mm hole, 20 m and 0.05 L/min: from 1.52e-8 m/s.
    """
    each = log_ratio(length_m, hole_radius_m) / (2.0 * math.pi * length_m * net_head_m)
    return Range("constant head", flow_floor_m3_s * each, flow_most_m3_s * each)


def logger_interval(lag_s: float) -> float:
    """Longest logger interval that gives five readings within a time lag.

    Parameters
    ----------
    lag_s : float [s]
        Shortest time lag expected, at the upper end of K.

    Returns
    -------
    float [s]
        Rounded down to 1, 2 or 5 times a power of ten, at most 60 s.

    References
    ----------
    Butler, McElwee and Liu (1996), rule of five readings, from memory.
    """
    longest = min(lag_s / FEWEST, 60.0)
    decade = 10.0 ** math.floor(math.log10(longest))
    step = max(f for f in (1.0, 2.0, 5.0) if f * decade <= longest * (1 + 1e-12))
    return step * decade
