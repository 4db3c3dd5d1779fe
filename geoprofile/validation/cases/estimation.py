"""Known truth in: coverage of fields, area above a level, K of synthetic tests and its range."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from geoprofile import kriging
from geoprofile.hydraulics import analyse
from geoprofile.plugins.registry import plugins
from geoprofile.validation.case import Case


@cache
def _coverages() -> tuple[float, ...]:
    """Shares of a drawn field that lie in its 50, 80 and 95 %: 40 fields, 60 data, 50 places."""
    rng = np.random.default_rng(20)
    inside = np.zeros(3)
    scores = np.array([0.674490, 1.281552, 1.959964])
    parameters = kriging.Parameters(
        sill=0.6, length_along_m=30.0, length_across_m=15.0, length_vertical_m=3.0
    )
    for _ in range(40):
        places = np.column_stack([rng.uniform(0, 120, (110, 2)), rng.uniform(0, 15, 110)])
        step = (places[:, None] - places[None]) / [15.0, 30.0, 3.0]  # the long way is north
        matrix = 0.6 * np.exp(-np.linalg.norm(step, axis=2))
        drawn = -5 + np.linalg.cholesky(matrix + 1e-10 * np.eye(110)) @ rng.normal(size=110)
        data = kriging.Data(support=kriging.Support.from_points(places[:60]), value=drawn[:60])
        found = kriging.krige(data, parameters).predict(places[60:])
        off = np.abs(drawn[60:] - found.mean) / found.sd
        inside += [(off < z).mean() for z in scores]
    return tuple(float(v) for v in inside / 40)


def _above_a_cone() -> list[float]:
    """Area of a cone above a level, cut as plumes are cut."""
    from shapely.geometry import box

    from geoprofile.geometry.contours import above

    side = np.linspace(-100.0, 100.0, 401)
    height = 100.0 - np.hypot(*np.meshgrid(side, side))
    return [float(above(side, side, height, 40.0, box(-100, -100, 100, 100)).area)]


@cache
def _median_error(each: int) -> tuple[float, float]:
    """Median of K over true K, and share of the 95 % ranges that hold it: own noisy examples."""
    rng = np.random.default_rng(7)
    methods = list(plugins("methods").values())
    ratio, inside = [], []
    for method in methods if each > 1 else [m for m in methods if m.name in QUICK]:
        low, high = (-4.0, -3.0) if method.name == "underdamped" else (-6.0, -4.5)
        for k in 10 ** rng.uniform(low, high, each):
            best = analyse(method.example(float(k)), methods).best
            if best is None:
                continue
            ratio.append(best.k_m_per_s / k)
            inside.append(best.k_low_m_per_s <= k <= best.k_high_m_per_s)
    return float(np.median(ratio)), float(np.mean(inside))


def _true_k(name: str) -> float:
    """A K that the method can measure [m/s]."""
    return 3e-4 if name == "underdamped" else 2e-6


def _as_fitted() -> list[float]:
    """K of each method over the true K of its own synthetic test."""
    found = []
    for name in METHODS:
        method = plugins("methods")[name]
        result = method.run(method.example(_true_k(name)))
        found.append(float(result.k_as_fitted_m_per_s or result.k_m_per_s) / _true_k(name))
    return found


FIELD = "krige and predict, 40 fields of 60 data at 50 places"
QUICK = ("hvorslev", "moye", "radial-storage")  # methods of the quick half
METHODS = tuple(sorted(plugins("methods")))

CASES = (
    Case(
        "coverage-50", "fields", "Drawn fields inside their 50 %", "Known truth", "derived",
        (0.50,), lambda: _coverages()[:1], inside=(0.45, 0.55), how=FIELD,
    ),
    Case(
        "coverage-80", "fields", "Drawn fields inside their 80 %", "Known truth", "derived",
        (0.80,), lambda: _coverages()[1:2], inside=(0.76, 0.84), how=FIELD,
    ),
    Case(
        "coverage-95", "fields", "Drawn fields inside their 95 %", "Known truth", "derived",
        (0.95,), lambda: _coverages()[2:], inside=(0.93, 0.97), how=FIELD,
    ),
    Case(
        "area-of-a-cone", "plume", "Area in which a cone lies above a level", "pi 60^2",
        "derived", (math.pi * 3600,), _above_a_cone, "m2", relative=1e-3,
        how="geometry.contours.above", because="a polygon stands for the circle",
    ),
    Case(
        "k-as-fitted", "k-recovery", "K of a synthetic test, before any skin is thought of",
        "Known truth in", "derived", (1.0,) * len(METHODS), _as_fitted, relative=0.05,
        labels=tuple(METHODS), how="every method as fitted", because="readings carry noise",
    ),
    Case(
        "k-range-of-examples", "k-spread", "Share of the 95 % ranges that hold the true K",
        "Known truth in, one of three methods, no fault in the readings: nearly all", "derived",
        (0.97,), lambda: _median_error(1)[1:], inside=(0.90, 1.0), how="analyse",
    ),
    Case(
        "k-of-examples-more", "k-spread", "Median of K over true K, synthetic tests",
        "Known truth in, 3 of each method", "derived", (1.0,),
        lambda: _median_error(3)[:1], relative=0.05, is_slow=True,
        how="analyse", because="readings carry noise",
    ),
    Case(
        "k-range-of-examples-more", "k-spread", "Share of the 95 % ranges that hold the true K",
        "Known truth in, 3 of each method, no fault in the readings: nearly all", "derived",
        (0.97,), lambda: _median_error(3)[1:], inside=(0.90, 1.0), how="analyse", is_slow=True,
    ),
)  # fmt: skip
