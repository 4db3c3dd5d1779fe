"""Known K in, stated coverage out: 600 tests made by a finite-volume model of its own.

The truth has one head along the interval, a Kv/Kh off by a factor of two (sd), radii off by 1 and
3 %, lengths off by 2 cm, sensor noise, and flow meters off by 10 %: what the program states.
"""

import importlib.util
import sys
from collections import Counter, defaultdict
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from geoprofile.hydraulics import analyse, interval_value, repeat_check
from geoprofile.hydraulics.tests import TestAnalysis
from geoprofile.plugins import registry

pytestmark = pytest.mark.calibration


def load() -> ModuleType:
    """The generator beside this file."""
    path = Path(__file__).with_name("families.py")
    spec = importlib.util.spec_from_file_location("families", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["families"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def families() -> ModuleType:
    """The generator."""
    return load()


@pytest.fixture(scope="module")
def analysed(families: ModuleType) -> list[tuple[str, TestAnalysis, float]]:
    """All good tests through all methods."""
    methods = list(registry.plugins("methods").values())
    return [(family, analyse(t, methods), k) for family, t, k in families.good_tests(seed=1)]


def test_family_is_right_in_95_percent(
    analysed: list[tuple[str, TestAnalysis, float]], families: ModuleType
) -> None:
    """The preferred method is that of the physics that made the test."""
    right = [a.best is not None and a.best.method == families.RIGHT[f] for f, a, _ in analysed]
    print(f"right family: {np.mean(right):.3f} of {len(right)}")
    assert np.mean(right) >= 0.95


def test_median_bias_is_within_5_percent(
    analysed: list[tuple[str, TestAnalysis, float]],
) -> None:
    """The preferred K is neither high nor low on the whole; each family is told."""
    ratios = defaultdict(list)
    for family, a, k in analysed:
        assert a.best is not None
        ratios[family].append(a.best.k_m_per_s / k)
    for family, values in ratios.items():
        print(f"{family}: median K over true K {np.median(values):.3f}")
    whole = np.concatenate(list(ratios.values()))
    assert abs(np.median(whole) - 1.0) <= 0.05


def test_95_percent_interval_holds_92_to_98_percent(
    analysed: list[tuple[str, TestAnalysis, float]],
) -> None:
    """Stated bounds hold the true K as often as they say."""
    inside = [
        a.best is not None and a.best.k_low_m_per_s < k < a.best.k_high_m_per_s
        for _, a, k in analysed
    ]
    print(f"inside the 95 % bounds: {np.mean(inside):.3f}")
    assert 0.92 <= np.mean(inside) <= 0.98


@pytest.mark.parametrize("method", ["bouwer-rice", "hvorslev"])
def test_known_bias_of_straight_lines_is_covered(
    analysed: list[tuple[str, TestAnalysis, float]], method: str
) -> None:
    """K of a straight line is off by its known bias; its bounds hold the truth in 90 % or more."""
    found = [(r, k) for _, a, k in analysed for r in a.results if r.method == method]
    inside = [r.k_low_m_per_s < k < r.k_high_m_per_s for r, k in found]
    ratio = np.median([r.k_m_per_s / k for r, k in found])
    print(f"{method}: median K over true K {ratio:.3f}, inside {np.mean(inside):.3f}")
    assert np.mean(inside) >= 0.90


def test_no_bad_test_is_accepted(families: ModuleType) -> None:
    """Leaks, early stops, a radius wrong by 30 % and trapped air are qualified or rejected."""
    methods = list(registry.plugins("methods").values())
    graded: Counter[tuple[str, str]] = Counter()
    for fault, test in families.bad_tests(seed=1):
        graded[fault, analyse(test, methods).grade] += 1
    print(dict(graded))
    assert not [fault for fault, grade in graded if grade == "accepted"]


def test_value_of_an_interval_from_three_repeats(families: ModuleType) -> None:
    """Repeats share their field sheet: the spread does not shrink below it, and holds the truth."""
    methods = list(registry.plugins("methods").values())
    inside, z = [], []
    for tests, k in families.repeated_tests(seed=1):
        value = interval_value([analyse(t, methods) for t in tests])
        inside.append(value.k_low_m_per_s < k < value.k_high_m_per_s)
        z.append(np.log10(value.k_m_per_s / k) / value.sd_log10_k)
        assert repeat_check(tests).coincide
    print(f"interval K inside its 95 %: {np.mean(inside):.3f}; rms of z {np.std(z):.2f}")
    assert np.mean(inside) >= 0.90
    assert 0.6 < np.sqrt(np.mean(np.square(z))) < 1.2
