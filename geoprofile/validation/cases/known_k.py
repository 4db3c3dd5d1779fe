"""Six hundred tests with a known K, made by finite volumes: method, median, coverage, faults."""

from __future__ import annotations

import math
from collections import Counter
from functools import cache

import numpy as np

from geoprofile.hydraulics import analyse, interval_value, repeat_check
from geoprofile.hydraulics.tests import TestAnalysis
from geoprofile.plugins.registry import plugins
from geoprofile.validation import known_k
from geoprofile.validation.case import Case

SOURCE = "Known truth in: 600 tests by finite volumes, field sheets a little wrong, sensor noise"
SEED = 1
LINES = ("bouwer-rice", "hvorslev")
FAULTS = ("leak", "stopped early", "radius wrong", "air")


@cache
def _analysed() -> tuple[tuple[str, TestAnalysis, float], ...]:
    methods = list(plugins("methods").values())
    return tuple((f, analyse(t, methods), k) for f, t, k in known_k.good_tests(seed=SEED))


def _right_method() -> list[float]:
    right = [a.best is not None and a.best.method == known_k.RIGHT[f] for f, a, _ in _analysed()]
    return [float(np.mean(right))]


def _medians() -> list[float]:
    ratios = [a.best.k_m_per_s / k if a.best else math.nan for _, a, k in _analysed()]
    return [float(np.median(ratios))]  # a test that has no K fails it


def _inside() -> list[float]:
    inside = [
        a.best is not None and a.best.k_low_m_per_s < k < a.best.k_high_m_per_s
        for _, a, k in _analysed()
    ]
    return [float(np.mean(inside))]


def _lines_inside() -> list[float]:
    """Share of the ranges of each straight line that hold the truth."""
    found = {
        m: [(r, k) for _, a, k in _analysed() for r in a.results if r.method == m] for m in LINES
    }
    return [
        float(np.mean([r.k_low_m_per_s < k < r.k_high_m_per_s for r, k in rows]))
        for rows in found.values()
    ]


def _accepted_faults() -> list[float]:
    """How many tests with each fault were accepted."""
    methods = list(plugins("methods").values())
    accepted: Counter[str] = Counter()
    for fault, test in known_k.bad_tests(seed=SEED):
        accepted[fault] += analyse(test, methods).grade == "accepted"
    return [float(accepted[fault]) for fault in FAULTS]


@cache
def _repeats() -> tuple[float, float, float]:
    """Share of interval ranges that hold the truth, rms of the scores, share of sets that agree."""
    methods = list(plugins("methods").values())
    inside, z, agree = [], [], []
    for tests, k in known_k.repeated_tests(seed=SEED):
        value = interval_value([analyse(t, methods) for t in tests])
        inside.append(value.k_low_m_per_s < k < value.k_high_m_per_s)
        z.append(np.log10(value.k_m_per_s / k) / value.sd_log10_k)
        agree.append(repeat_check(tests).coincide is True)
    return float(np.mean(inside)), float(np.sqrt(np.mean(np.square(z)))), float(np.mean(agree))


CASES = (
    Case(
        "known-k-median", "k-spread", "Median of the preferred K over the true K", SOURCE,
        "derived", (1.0,), _medians, relative=0.05, how="analyse, all methods", is_slow=True,
    ),
    Case(
        "known-k-inside", "k-spread", "Share of the 95 % ranges that hold the true K", SOURCE,
        "derived", (0.95,), _inside, inside=(0.92, 0.98), how="analyse, all methods", is_slow=True,
    ),
    Case(
        "known-k-method", "k-spread", "Share of tests whose physics the preferred method has",
        SOURCE, "derived", (1.0,), _right_method, inside=(0.95, 1.0), how="analyse, all methods",
        is_slow=True,
    ),
    Case(
        "known-k-lines", "k-spread", "Share of ranges of straight lines that hold the true K",
        SOURCE, "derived", (0.95, 0.95), _lines_inside, inside=(0.90, 1.0), labels=LINES,
        how="methods bouwer-rice and hvorslev", is_slow=True,
    ),
    Case(
        "known-k-faults", "k-spread", "Faulty tests that were accepted, 25 of each fault",
        "Known truth in: leaks, early stops, a radius wrong by 30 %, trapped air", "derived",
        (0.0,) * 4, _accepted_faults, absolute=(1.0, 0.0, 0.0, 0.0), labels=FAULTS,
        because="a leak of a tenth of the water is found as 9 +- 5 %: K is corrected for it",
        how="analyse, all methods", is_slow=True,
    ),
    Case(
        "known-k-repeats", "k-spread", "Share of interval ranges, three repeats each, that hold K",
        SOURCE, "derived", (0.95,), lambda: _repeats()[:1], inside=(0.90, 1.0),
        how="interval_value", is_slow=True,
    ),
    Case(
        "known-k-repeats-score", "k-spread", "Root mean square of log10 K less truth over its sd",
        SOURCE, "derived", (1.0,), lambda: _repeats()[1:2], inside=(0.6, 1.2),
        how="interval_value", is_slow=True,
    ),
    Case(
        "known-k-repeats-agree", "k-spread", "Share of those sets of repeats said to coincide",
        SOURCE, "derived", (1.0,), lambda: _repeats()[2:], how="repeat_check", is_slow=True,
    ),
)  # fmt: skip
