"""Trends over sampling rounds: Mann-Kendall and the slope of Sen."""

from __future__ import annotations

from itertools import combinations, permutations

import numpy as np

from geoprofile.products.rounds.trends import mann_kendall, trend_of
from geoprofile.validation.case import Case

SERIES = (12.0, 9.5, 10.5, 7.0, 8.2, 5.1)
YEARS = (0.0, 1.0, 2.0, 3.0, 4.5, 5.0)


def _by_counting() -> tuple[float, float]:
    """S and its two-sided chance over all 720 orders of the six values."""

    def s_of(values: tuple[float, ...]) -> int:
        return sum(int(np.sign(b - a)) for a, b in combinations(values, 2))

    own = s_of(SERIES)
    hits = [abs(s_of(order)) >= abs(own) for order in permutations(SERIES)]
    return float(own), float(np.mean(hits))


def _by_pairs() -> float:
    """The median of the slopes of all pairs."""
    pairs = combinations(zip(YEARS, SERIES, strict=True), 2)
    return float(np.median([(d - b) / (c - a) for (a, b), (c, d) in pairs]))


def _slope() -> list[float]:
    found = trend_of(np.array(YEARS), np.array(SERIES), np.full(6, np.nan))
    return [float(found.slope if found.slope is not None else np.nan)]


TWELVE = (12.0, 9.5, 10.5, 7.0, 8.2, 11.1, 6.4, 7.7, 5.9, 8.8, 6.1, 5.1)


def _exact_of_twelve() -> tuple[float, float]:
    """S and its exact two-sided chance from the numbers of orders with so many falls."""
    s = sum(int(np.sign(b - a)) for a, b in combinations(TWELVE, 2))
    counts = np.ones(1)
    for n in range(2, 13):
        counts = np.convolve(counts, np.ones(n))
    scores = 66 - 2 * np.arange(67)
    return float(s), float(counts[np.abs(scores) >= abs(s)].sum() / counts.sum())


CASES = (
    Case(
        "mann-kendall-twelve", "trend", "S and two-sided p of twelve results, by the normal",
        "Mann (1945), Kendall (1975); exact numbers of orders", "derived", _exact_of_twelve(),
        lambda: mann_kendall(np.array(TWELVE)), absolute=(1e-9, 0.003), labels=("S", "p"),
        how="trends.mann_kendall", because="beyond ten results the normal stands for the exact",
    ),
    Case(
        "mann-kendall", "trend", "S and two-sided p of six results",
        "Mann (1945); every one of the 720 orders counted", "derived", _by_counting(),
        lambda: mann_kendall(np.array(SERIES)), relative=1e-9, labels=("S", "p"),
        how="trends.mann_kendall",
    ),
    Case(
        "sen-slope", "trend", "Slope of six results at uneven times",
        "Sen (1968); median of the slopes of all pairs", "derived", (_by_pairs(),), _slope,
        "ug/L a year", relative=1e-9, how="trends.trend_of",
    ),
)  # fmt: skip
