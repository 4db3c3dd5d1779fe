"""Pressures, volumes, times and ranges of the field plan."""

from __future__ import annotations

import math

from geoprofile import packers
from geoprofile.validation.case import Case, Second

LAGS = (
    (6.4, 1e-6, 62.2),
    (13.3, 1e-6, 269.0),
    (25.4, 1e-6, 980.0),
    (50.0, 1e-6, 3800.0),
    (25.4, 1e-9, 9.8e5),
)


def _inflation() -> list[float]:
    outside = packers.pressure_at_element(46.0, 12.40)
    gas = packers.gas_line_pressure(outside, 350e3, 330e3, margin=1.3)
    return [gas / 1e3, packers.water_line_pressure(1108.404e3, 46.0, gauge_height_m=1.0) / 1e3]


def _inflation_by_hand() -> list[float]:
    head = 999.703 * 9.80665 / 1e3
    gas = 33.6 * head + 350 + 1.3 * 330
    return [gas, gas - 47.0 * head]


def _purge() -> list[float]:
    rate = packers.feasible_rate(1e-7, 1.5, 0.048, drawdown_m=5.0)
    return [
        packers.zone_volume(0.096, 0.0334, 1.5) * 1e3,
        packers.pipe_volume(0.0266, 45.0) * 1e3,
        packers.invaded_volume(0.2e-3 / 60, 3 * 86400) * 1e3,
        rate * 60e3,
        packers.purge_target(34.55e-3).time_s(rate) / 3600,
    ]


def _range() -> list[float]:
    held = packers.slug_range(0.0254, 1.5, 0.048, longest_s=8 * 3600, interval_s=0.5)
    return [held.low_m_per_s, held.high_m_per_s]


CASES = (
    Case(
        "inflation", "field-work", "Pressure to inflate at 46 m, gas and water line",
        "Own worked example, common practice", "common practice", (1108.4, 647.6), _inflation,
        "kPa", absolute=0.05, labels=("gas line", "water line"),
        how="packers.gas_line_pressure and water_line_pressure", because="printed to 0.1 kPa",
        second=Second("hydrostatics by hand", _inflation_by_hand, 1e-4),
    ),
    Case(
        "time-lag", "field-work", "Time lag of a 1 m zone of 48 mm radius for five risers",
        "Hvorslev (1951), case 8, worked by hand", "from memory", tuple(v for _, _, v in LAGS),
        lambda: [packers.time_lag(k, r / 1e3, 1.0, 0.048) for r, k, _ in LAGS], "s",
        relative=5e-3, labels=tuple(f"riser {r:g} mm, K {k:g} m/s" for r, k, _ in LAGS),
        how="packers.time_lag", because="two or three digits",
        second=Second(
            "the same formula by hand, rc^2 asinh(L / 2 rw) / (2 L K)",
            lambda: [(r / 1e3) ** 2 * math.asinh(1 / 0.096) / (2 * k) for r, k, _ in LAGS], 0.01,
        ),
    ),
    Case(
        "purge", "field-work", "Volumes of zone, pipe and foreign water, rate and time",
        "Own worked examples, common practice", "common practice",
        (9.543, 25.01, 864.0, 0.0821, 21.0), _purge, absolute=(5e-4, 5e-3, 1e-3, 5e-5, 0.1),
        how="packers.zone_volume, pipe_volume, invaded_volume, feasible_rate, purge_target",
        because="two to four digits worked by hand",
        labels=("zone, L", "pipe, L", "foreign, L", "rate, L/min", "time, h"),
    ),
    Case(
        "slug-range", "field-work", "K that a slug test can measure: riser 25.4 mm, zone of 1.5 m",
        "Own worked example, common practice: 8 h of readings, a logger every 0.5 s",
        "common practice", (4.885e-8, 2.962e-4), _range, "m/s", relative=2e-4,
        labels=("least", "most"), how="packers.slug_range", because="four digits worked by hand",
    ),
)  # fmt: skip
