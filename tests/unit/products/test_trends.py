"""Trends and changes of results, against closed forms and another library."""

from __future__ import annotations

import math
from itertools import permutations
from typing import Any

import numpy as np
import pymannkendall
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.products.rounds.changes import change_of
from geoprofile.products.rounds.trends import MOST_EXACT, mann_kendall, trend_of

NONE = np.full(4, np.nan)


@given(st.lists(st.integers(0, 9), min_size=MOST_EXACT + 1, max_size=30))
def test_test_and_slope_are_those_of_another_library(values: list[int]) -> None:
    """Of pymannkendall 1.4 (registry): S, p with ties and continuity correction, Sen's slope."""
    series = np.array(values, dtype=float)
    s, p = mann_kendall(series)
    theirs = pymannkendall.original_test(series)
    assert s == theirs.s
    if theirs.var_s > 0:
        assert p == pytest.approx(theirs.p, abs=1e-9)
    times = np.arange(float(len(series)))
    found = trend_of(times, series, np.full(len(series), np.nan))
    assert found.slope == pytest.approx(theirs.slope)


@pytest.mark.parametrize("count", [4, 5, 6])
def test_p_of_few_results_counts_every_order(count: int) -> None:
    """Closed form: the share of all orders with an S as large, both ways (Kendall 1975)."""
    orders = [np.array(p, dtype=float) for p in permutations(range(count))]
    of_all = np.array([mann_kendall(order)[0] for order in orders])
    for order in orders[:: max(1, len(orders) // 40)]:
        s, p = mann_kendall(order)
        assert p == pytest.approx(min(1.0, float(np.mean(np.abs(of_all) >= abs(s)))))


def test_a_straight_line_has_its_slope_and_no_width() -> None:
    """Closed form: all pairs have the one slope."""
    found = trend_of(np.arange(4.0), 10.0 - 2.0 * np.arange(4.0), NONE)
    assert (found.slope, found.slope_low, found.slope_high) == pytest.approx((-2, -2, -2))


def test_a_falling_limit_makes_no_trend() -> None:
    """Non-detects at 5, 2, 1 and 0.5 say nothing of a fall, and make no slope."""
    found = trend_of(np.arange(4.0), NONE, np.array([5.0, 2.0, 1.0, 0.5]))
    assert (found.s, found.p, found.slope) == (0, 1.0, None)
    mixed = trend_of(np.arange(4.0), np.array([np.nan, 3.0, 2.0, 1.0]), np.array([5.0, *NONE[1:]]))
    assert mixed.s == 0


def result(value: float | None, limit: float | None = None, sd: float = 0.08) -> dict[str, Any]:
    """A row of `concentration`."""
    return {
        "value_ug_per_l": value,
        "limit_ug_per_l": limit,
        "detected": value is not None,
        "sd_log10": sd,
    }


@pytest.mark.parametrize(
    ("before", "now", "verdict"),
    [
        (result(10.0), result(16.0), "within scatter"),  # 10^(1.96 * 0.08 * sqrt 2) = 1.67
        (result(10.0), result(17.0), "rise"),
        (result(17.0), result(10.0), "fall"),
        (result(None, 1.0), result(5.0), "rise"),
        (result(5.0), result(None, 1.0), "fall"),
        (result(5.0), result(None, 20.0), "not known"),
        (result(None, 1.0), result(1.2), "not known"),
        (result(None, 1.0), result(None, 2.0), "not detected in both"),
    ],
)
def test_a_change_is_told_from_scatter(
    before: dict[str, Any], now: dict[str, Any], verdict: str
) -> None:
    """The bound of two samples, and what limits allow."""
    change, scatter, found = change_of(before, now)
    assert found == verdict
    assert scatter == pytest.approx(1.959964 * 0.08 * math.sqrt(2), rel=1e-6)
    assert (change is None) == (not (before["detected"] and now["detected"]))
