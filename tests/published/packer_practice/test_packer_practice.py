"""Worked examples of packer practice (own examples, common practice, no source; see source.md)."""

from __future__ import annotations

import pytest

from geoprofile import packers


def test_gas_line_shows_1108_kpa() -> None:
    """Packer element 46 m, static 12.40 m, 350 kPa to expand, 330 kPa across, margin 1.3: 1108.4
    kPa.
    """
    outside = packers.pressure_at_element(46.0, 12.40)
    gauge = packers.gas_line_pressure(outside, 350e3, 330e3, margin=1.3)
    assert gauge == pytest.approx(1108.4e3, abs=50)  # printed to 0.1 kPa


def test_water_line_shows_648_kpa() -> None:
    """The same packer element on a water-filled line with the gauge 1.0 m above ground: 647.6
    kPa.
    """
    gauge = packers.water_line_pressure(1108.404e3, 46.0, gauge_height_m=1.0)
    assert gauge == pytest.approx(647.6e3, abs=50)  # printed to 0.1 kPa


@pytest.mark.parametrize(
    ("riser_mm", "k", "seconds"),
    [
        (6.4, 1e-6, 62.2),
        (13.3, 1e-6, 269),
        (25.4, 1e-6, 980),
        (50, 1e-6, 3800),
        (25.4, 1e-9, 9.8e5),
    ],
)
def test_time_lag_of_a_metre_zone(riser_mm: float, k: float, seconds: float) -> None:
    """Time lag of a 1 m zone in a hole of 48 mm radius for five risers."""
    lag = packers.time_lag(k, riser_mm / 1e3, 1.0, 0.048)
    assert lag == pytest.approx(seconds, rel=0.005)  # printed to two or three digits


def test_range_of_a_slug_test() -> None:
    """25.4 mm, 1.5 m, 48 mm: 8 h reach down to 4.885e-8, a 0.5 s logger up to 2.962e-4 m/s."""
    held = packers.slug_range(0.0254, 1.5, 0.048, longest_s=8 * 3600, interval_s=0.5)
    assert held.low_m_per_s == pytest.approx(4.885e-8, rel=2e-4)  # printed to four digits
    assert held.high_m_per_s == pytest.approx(2.962e-4, rel=2e-4)


def test_zone_holds_9_5_litres() -> None:
    """A 1.5 m zone of a 96 mm hole around a 33.4 mm rod: 9.543 L."""
    assert packers.zone_volume(0.096, 0.0334, 1.5) * 1e3 == pytest.approx(9.543, abs=5e-4)


def test_pipe_holds_25_litres() -> None:
    """45 m of 26.6 mm pipe: 25.01 L."""
    assert packers.pipe_volume(0.0266, 45.0) * 1e3 == pytest.approx(25.01, abs=5e-3)


def test_three_days_of_cross_flow_bring_864_litres() -> None:
    """0.2 L/min for three days: 864 L, far beyond three volumes."""
    invaded = packers.invaded_volume(0.2e-3 / 60, 3 * 86400)
    assert invaded * 1e3 == pytest.approx(864.0)


def test_tight_zone_needs_21_hours() -> None:
    """K 1e-7 m/s and 5 m drawdown give 0.0821 L/min: three times 34.55 L need 21 h."""
    rate = packers.feasible_rate(1e-7, 1.5, 0.048, drawdown_m=5.0)
    assert rate * 60e3 == pytest.approx(0.0821, abs=5e-5)
    purge = packers.purge_target(34.55e-3)
    assert purge.time_s(rate) / 3600 == pytest.approx(21.0, abs=0.1)
