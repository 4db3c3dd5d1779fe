"""Laws that K of a test must follow whatever the numbers."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.hydraulics import analyse, interval_value
from geoprofile.hydraulics.methods import bouwer_rice, hvorslev, partial_penetration
from geoprofile.hydraulics.recovery import ground_modes, recovery, steady_log_ratio
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.plugins import registry

METHODS = list(registry.plugins("methods").values())
factors = st.floats(0.01, 100.0)


def noisy(seed: int) -> HydraulicTest:
    """A recovery with sensor noise."""
    test = partial_penetration.example(1e-5)
    rng = np.random.default_rng(seed)
    value = test.displacement_m + rng.normal(0.0, 0.001, test.elapsed_s.size)
    return dataclasses.replace(test, displacement_m=value)


@settings(max_examples=6, deadline=None)
@given(factor=factors, plugin=st.sampled_from([hvorslev, bouwer_rice, partial_penetration]))
def test_k_doubles_when_recovery_takes_half_the_time(factor: float, plugin: object) -> None:
    """Time stretched by f divides K by f, for every method."""
    test = noisy(1)
    slow = dataclasses.replace(test, elapsed_s=factor * test.elapsed_s)
    before, after = plugin.run(test), plugin.run(slow)  # type: ignore[attr-defined]
    assert after.k_m_per_s * factor == pytest.approx(before.k_m_per_s, rel=1e-6)
    assert after.sd_log10_k == pytest.approx(before.sd_log10_k, rel=1e-5)


@settings(max_examples=6, deadline=None)
@given(factor=factors)
def test_k_does_not_depend_on_the_size_of_the_displacement(factor: float) -> None:
    """Heads scaled by f leave K alone."""
    test = noisy(2)
    scaled = dataclasses.replace(
        test, displacement_m=factor * test.displacement_m, expected_displacement_m=factor * 0.8
    )
    before, after = analyse(test, METHODS), analyse(scaled, METHODS)
    assert before.best is not None
    assert after.best is not None
    assert after.best.k_m_per_s == pytest.approx(before.best.k_m_per_s, rel=1e-6)
    assert after.grade == before.grade


@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 1000))
def test_order_of_readings_changes_nothing_but_the_grade(seed: int) -> None:
    """Two swapped rows give the same K."""
    test = noisy(3)
    at = int(np.random.default_rng(seed).integers(10, 100))
    order = np.arange(test.elapsed_s.size)
    order[[at, at + 1]] = order[[at + 1, at]]
    mixed = dataclasses.replace(
        test, elapsed_s=test.elapsed_s[order], displacement_m=test.displacement_m[order]
    )
    assert hvorslev.run(mixed).k_m_per_s == pytest.approx(hvorslev.run(test).k_m_per_s, rel=1e-9)


def test_falling_and_rising_heads_are_mirrors() -> None:
    """The sign of the displacement changes nothing."""
    test = noisy(4)
    mirror = dataclasses.replace(test, kind="rising head", displacement_m=-test.displacement_m)
    before, after = analyse(test, METHODS), analyse(mirror, METHODS)
    assert before.best is not None
    assert after.best is not None
    assert after.best.k_m_per_s == pytest.approx(before.best.k_m_per_s, rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(
    length=st.floats(0.3, 20.0),
    radius=st.floats(0.02, 0.1),
    kv_kh=st.floats(0.02, 2.0),
    upper_boundary=st.floats(0.0, 50.0),
    base=st.floats(0.1, 50.0),
)
def test_recovery_falls_from_one_to_zero(
    length: float, radius: float, kv_kh: float, upper_boundary: float, base: float
) -> None:
    """Under a water table H/H0 lies between 0 and 1 and never rises."""
    modes = ground_modes(
        length,
        radius,
        kv_kh=kv_kh,
        upper_boundary_distance=upper_boundary,
        base_distance=base,
        water_table=True,
    )
    head = recovery(np.geomspace(0.05, 30.0, 8), 1e-5, modes, nodes=12)
    assert np.all(np.diff(head) < 1e-6)
    assert head[0] < 1.0
    assert head[-1] > -1e-4


@settings(max_examples=25, deadline=None)
@given(length=st.floats(0.5, 10.0), near=st.floats(0.2, 3.0), further=st.floats(1.5, 4.0))
def test_water_table_far_away_raises_p(length: float, near: float, further: float) -> None:
    """The further the fixed head, the larger P and the slower the recovery."""
    kw = {"kv_kh": 1.0, "base_distance": 30.0, "water_table": True}
    close = steady_log_ratio(ground_modes(length, 0.05, upper_boundary_distance=near, **kw))
    away = steady_log_ratio(
        ground_modes(length, 0.05, upper_boundary_distance=near * further, **kw)
    )
    assert away > close


@settings(max_examples=25, deadline=None)
@given(ks=st.lists(st.floats(0.8e-5, 1.2e-5), min_size=1, max_size=5))
def test_interval_value_lies_between_its_repeats(ks: list[float]) -> None:
    """The combined K lies within the repeats, in any order of them."""
    analyses = [
        analyse(dataclasses.replace(hvorslev.example(k), test=str(i)), [hvorslev.PLUGIN])
        for i, k in enumerate(ks)
    ]
    value = interval_value(analyses)
    single = [a.best.k_m_per_s for a in analyses if a.best]
    assert min(single) * 0.999999 <= value.k_m_per_s <= max(single) * 1.000001
    back = interval_value(analyses[::-1])
    assert back.k_m_per_s == pytest.approx(value.k_m_per_s, rel=1e-12)
    assert back.sd_log10_k == pytest.approx(value.sd_log10_k, rel=1e-12)
