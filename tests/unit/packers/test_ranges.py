"""Duration and measurable range."""

from __future__ import annotations

import math

import pytest

from geoprofile import packers


def test_time_to_37_percent_is_the_lag() -> None:
    """Recovery to exp(-1) takes one time lag."""
    assert packers.time_to(math.exp(-1), 100.0) == pytest.approx(100.0)


def test_overdamped_limit_cuts_the_range() -> None:
    """A long column of water lowers the largest K: sqrt(g/Le) rc^2 P / (4 L)."""
    held = packers.slug_range(
        0.0254, 1.5, 0.048, longest_s=3600, interval_s=0.01, water_column_m=9.80665
    )
    ratio = math.asinh(1.5 / 0.096)
    assert held.high_m_per_s == pytest.approx(0.0254**2 * ratio / 6.0)


def test_bounds_of_the_riser_end_the_range() -> None:
    """With the smallest and largest riser the K lies at the ends of the range."""
    low, high = packers.riser_bounds(1e-6, 1.5, 0.048, longest_s=3600, interval_s=1.0)
    at_low = packers.slug_range(low, 1.5, 0.048, longest_s=3600, interval_s=1.0)
    at_high = packers.slug_range(high, 1.5, 0.048, longest_s=3600, interval_s=1.0)
    assert at_low.high_m_per_s == pytest.approx(1e-6)
    assert at_high.low_m_per_s == pytest.approx(1e-6)


@pytest.mark.parametrize(
    ("on_hand", "expected"),
    [((), 0.010), ((0.0064, 0.0085, 0.013), 0.0085), ((0.02,), None)],
)
def test_smallest_riser_change(on_hand: tuple[float, ...], expected: float | None) -> None:
    """The change goes no further than it must, and only to a pipe on hand."""
    assert packers.riser_change(0.0254, (0.002, 0.010), on_hand_m=on_hand) == expected


def test_riser_that_will_do_stays() -> None:
    """No change where none is needed."""
    assert packers.riser_change(0.0254, (0.01, 0.05), on_hand_m=(0.02,)) == 0.0254


@pytest.mark.parametrize(("lag", "step"), [(5.0, 1.0), (12.0, 2.0), (980.0, 50.0), (1e6, 50.0)])
def test_logger_interval_is_round(lag: float, step: float) -> None:
    """Five readings in a lag, rounded down to 1, 2, 5 times a power of ten."""
    assert packers.logger_interval(lag) == pytest.approx(step)


def test_pulse_pipe_is_thin() -> None:
    """Ten litres at 2e-9 1/Pa store as much as a pipe of 0.25 mm radius."""
    assert packers.pulse_radius(0.01, 2e-9) == pytest.approx(0.25e-3, rel=0.01)


def test_constant_head_range_is_linear_in_flow() -> None:
    """0.05 L/min floor at 20 m: 1.52e-8 m/s; a thousand times the flow, a thousand times the K."""
    held = packers.constant_head_range(
        1.5, 0.048, net_head_m=20.0, flow_floor_m3_s=0.05e-3 / 60, flow_most_m3_s=50e-3 / 60
    )
    assert held.low_m_per_s == pytest.approx(1.522e-8, rel=1e-3)
    assert held.high_m_per_s == pytest.approx(1000 * held.low_m_per_s)
    assert held.holds(1e-6)
    assert not held.holds(1e-9)


def test_no_rate_takes_for_ever() -> None:
    """At no rate a purge never ends."""
    assert packers.purge_target(0.01).time_s(0.0) == math.inf


def test_purge_counts_the_pipe_once() -> None:
    """3 (zone + dead) + pipe + invaded."""
    purge = packers.purge_target(0.01, dead_m3=0.002, pipe_m3=0.02, invaded_m3=0.1)
    assert purge.total_m3 == pytest.approx(3 * 0.012 + 0.02 + 0.1)
