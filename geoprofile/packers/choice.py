"""Which test measures the expected K in a set-up, how long it runs, and what would help if none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from geoprofile.packers.ranges import (
    USABLE,
    Range,
    constant_head_range,
    logger_interval,
    pulse_radius,
    slug_range,
    time_lag,
    time_to,
)
from geoprofile.packers.risers import riser_bounds, riser_change

SLUG, CONSTANT, PULSE = "slug test", "constant head", "pressure pulse"
OSCILLATION = (
    "the level may oscillate: log as fast as the logger can, an oscillation can be analysed too"
)
SLOWEST_LOG_S = 60.0  # [s]
GOOD = 0.05  # [-] normalised head at which nothing more is learnt


@dataclass(frozen=True)
class Means:
    """What the crew has: time, logger, pipe and pump; the defaults are common practice, no source.

    `pulse_compressibility_per_pa` is that of the shut-in string; `is_measured` says whether it was
    measured there or is a guess.
    """

    longest_s: float = 7200.0
    shortest_interval_s: float = 0.5
    riser_radius_m: float = 0.019
    risers_on_hand_m: tuple[float, ...] = ()
    net_head_m: float = 5.0
    flow_floor_m3_s: float = 0.05e-3 / 60.0
    flow_most_m3_s: float = 30e-3 / 60.0
    pulse_compressibility_per_pa: float = 2e-9
    is_measured: bool = False


@dataclass(frozen=True)
class Zone:
    """The isolated zone: length, radius of the hole, water above its top, shut-in water."""

    length_m: float
    hole_radius_m: float
    water_column_m: float
    volume_m3: float


@dataclass(frozen=True)
class Choice:
    """The test to make, K ranges of every test, and how to run it.

    `method` is None where no test reaches the expected K. `duration_s` is the time to 15 % of the
    displacement at the expected K, `stop_s` the time after which to stop whatever is reached.
    `riser_m` is the radius of pipe to change to, None where no change is needed or none helps.
    """

    method: str | None
    ranges: tuple[Range, ...]
    duration_s: float | None
    stop_s: float
    logger_s: float
    riser_m: float | None
    notes: tuple[str, ...]


def measurable_ranges(zone: Zone, means: Means) -> tuple[Range, ...]:
    """K that each kind of test measures in a zone.

    Parameters
    ----------
    zone : Zone [m]
        Geometry.
    means : Means [m, s]
        What the crew has.

    Returns
    -------
    tuple of Range [m/s]
        Slug test, constant head, pressure pulse.

    Notes
    -----
    A pulse is taken as a slug test in the pipe that would store as much as the shut-in system;
    its real lower end is set by the leak and the creep of the packer elements.

    References
    ----------
    Common practice, no source; Bredehoeft and Papadopulos (1980) for the pulse, from memory.
    """
    length, radius = zone.length_m, zone.hole_radius_m
    slug = slug_range(
        means.riser_radius_m,
        length,
        radius,
        longest_s=means.longest_s,
        interval_s=means.shortest_interval_s,
        water_column_m=zone.water_column_m,
    )
    constant = constant_head_range(
        length,
        radius,
        net_head_m=means.net_head_m,
        flow_floor_m3_s=means.flow_floor_m3_s,
        flow_most_m3_s=means.flow_most_m3_s,
    )
    narrow = pulse_radius(zone.volume_m3, means.pulse_compressibility_per_pa)
    pulse = slug_range(
        narrow,
        length,
        radius,
        longest_s=means.longest_s,
        interval_s=means.shortest_interval_s,
    )
    return slug, constant, Range(PULSE, pulse.low_m_per_s, pulse.high_m_per_s)


def choose_test(
    zone: Zone, means: Means, k_m_per_s: float | None, *, k_range: Sequence[float] = ()
) -> Choice:
    """The test that measures the expected K, its length, and the change that would make one work.

    Parameters
    ----------
    zone : Zone [m]
        Geometry.
    means : Means [m, s]
        What the crew has.
    k_m_per_s : float [m/s] or None
        Expected K; None when nothing is known, which lets the slug test go first.
    k_range : sequence of float [m/s]
        Low and high expected K.

    Returns
    -------
    Choice [s]
        A slug test where it reaches K, else constant head where K is high, else a pulse.

    References
    ----------
    Common practice, no source.
    """
    ranges = measurable_ranges(zone, means)
    if k_m_per_s is None:
        told = "K not known here: the first test tells; log as fast as the logger can"
        fast = means.shortest_interval_s
        return Choice(SLUG, ranges, None, means.longest_s, fast, None, (told,))
    method = next((r.method for r in ranges if r.holds(k_m_per_s)), None)
    lag = _lag(zone, means, method, k_m_per_s)
    fastest = _lag(zone, means, method, max([k_m_per_s, *k_range]))
    slow_k = min([k_m_per_s, *k_range])
    stop = min(time_to(GOOD, _lag(zone, means, method, slow_k)), means.longest_s)
    step = min(max(logger_interval(fastest), means.shortest_interval_s), SLOWEST_LOG_S)
    riser, notes = _riser(zone, means, ranges[0], k_m_per_s)
    return Choice(
        method,
        ranges,
        None if method == CONSTANT else time_to(USABLE, lag),
        stop,
        step,
        riser,
        (*notes, *_outside(ranges, method, k_range), *_stiffness(method, means)),
    )


def _lag(zone: Zone, means: Means, method: str | None, k: float) -> float:
    """Time lag in the pipe, or in the shut-in system of a pulse."""
    radius = means.riser_radius_m
    if method == PULSE:
        radius = pulse_radius(zone.volume_m3, means.pulse_compressibility_per_pa)
    return time_lag(k, radius, zone.length_m, zone.hole_radius_m)


def _riser(zone: Zone, means: Means, slug: Range, k: float) -> tuple[float | None, tuple[str, ...]]:
    """The smallest change of pipe that lets a slug test reach K, told in words."""
    if slug.holds(k):
        return None, ()
    bounds = riser_bounds(
        k,
        zone.length_m,
        zone.hole_radius_m,
        longest_s=means.longest_s,
        interval_s=means.shortest_interval_s,
        water_column_m=zone.water_column_m,
    )
    radius = riser_change(means.riser_radius_m, bounds, on_hand_m=means.risers_on_hand_m)
    side = "low" if k < slug.low_m_per_s else "high"
    told = (
        f"K expected {k:.1e} m/s is too {side} for a slug test in a pipe of"
        f" {2e3 * means.riser_radius_m:.1f} mm ({slug.low_m_per_s:.1e} to"
        f" {slug.high_m_per_s:.1e} m/s)"
    )
    oscillation = () if side == "low" else (OSCILLATION,)
    if radius is None:
        return None, (f"{told}; no pipe on hand would do", *oscillation)
    if radius >= zone.hole_radius_m:
        return None, (f"{told}; no pipe that fits the hole would do", *oscillation)
    return radius, (f"{told}; a pipe of {2e3 * radius:.1f} mm would do", *oscillation)


def _outside(
    ranges: Sequence[Range], method: str | None, k_range: Sequence[float]
) -> tuple[str, ...]:
    """Whether the expected spread of K leaves the range of the chosen test."""
    if method is None:
        return ("no test on hand measures the K that is expected here",)
    held = next(r for r in ranges if r.method == method)
    missed = [k for k in k_range if not held.holds(k)]
    if not missed:
        return ()
    ends = " and ".join(f"{k:.1e}" for k in missed)
    return (f"the expected range of K reaches {ends} m/s, beyond the {method}",)


def _stiffness(method: str | None, means: Means) -> tuple[str, ...]:
    """What a pulse rests on."""
    if method != PULSE:
        return ()
    soft = means.pulse_compressibility_per_pa
    if means.is_measured:
        return (f"the pulse rests on {soft:.1e} 1/Pa, the median measured at this site",)
    return (
        f"the range of the pulse rests on a guess of {soft:.1e} 1/Pa: measure it on the string, by"
        " pressing a known volume into the shut-in zone, dV / (V dp)",
    )
