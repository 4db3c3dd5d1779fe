"""Readings are ordered, repaired and started as their notes say."""

import dataclasses

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.hydraulics import analyse
from geoprofile.hydraulics.methods.hvorslev import PLUGIN
from geoprofile.hydraulics.readings import treat
from geoprofile.hydraulics.synthetic import exponential_test
from geoprofile.hydraulics.tests import HydraulicTest

TRUE = 1e-5


def clean(**changes: object) -> HydraulicTest:
    """The example of the method, changed."""
    return dataclasses.replace(PLUGIN.example(TRUE), **changes)


def found(test: HydraulicTest) -> float:
    """K over the true K."""
    return PLUGIN.run(test).k_m_per_s / TRUE


def test_doubled_times_are_averaged() -> None:
    """Two readings at one time count as their mean."""
    t = clean()
    time, value = np.repeat(t.elapsed_s, 2), np.repeat(t.displacement_m, 2)
    value = value + np.tile([1e-3, -1e-3], t.elapsed_s.size)
    treated = treat(clean(elapsed_s=time, displacement_m=value))
    assert treated.time_s.size == t.elapsed_s.size
    assert any("equal times" in words for words in treated.remarks)


def test_clock_set_back_is_repaired_and_doubted() -> None:
    """One jump of the clock to the past is taken out; the test is then qualified."""
    t = clean()
    time = np.where(np.arange(120) >= 60, t.elapsed_s - t.elapsed_s[40], t.elapsed_s)
    test = clean(elapsed_s=time)
    assert found(test) == pytest.approx(1.0, rel=1e-6)
    assert PLUGIN.run(test).grade == "qualified"


def test_clock_set_forward_is_doubted() -> None:
    """A long step in time without a step in head is a clock that jumped."""
    t = clean()
    time = t.elapsed_s + np.where(np.arange(120) > 20, t.elapsed_s[60], 0.0)
    result = PLUGIN.run(clean(elapsed_s=time))
    assert result.grade != "accepted"
    assert any("jump forward" in words for words in result.notes)


def test_long_pause_after_recovery_is_no_jump() -> None:
    """A logger that slows down near static is in order."""
    t = clean()
    time = np.append(t.elapsed_s, t.elapsed_s[-1] * np.array([2.0, 4.0, 8.0]))
    value = np.append(t.displacement_m, np.full(3, 1e-4))
    result = PLUGIN.run(clean(elapsed_s=time, displacement_m=value))
    assert not any("jump" in words for words in result.notes)


def test_rows_out_of_order_are_sorted() -> None:
    """Mixed-up rows give the same K."""
    t = clean()
    order = np.arange(120)
    order[[20, 21, 50, 51]] = order[[21, 20, 51, 50]]
    mixed = clean(elapsed_s=t.elapsed_s[order], displacement_m=t.displacement_m[order])
    assert found(mixed) == pytest.approx(1.0, rel=1e-9)


def test_start_is_found_when_the_logger_ran_before() -> None:
    """Readings at rest after time 0 are no part of the recovery."""
    t = clean()
    step = t.elapsed_s[1]
    time = np.append(np.arange(10) * step, t.elapsed_s + 10 * step)
    value = np.append(np.zeros(10), t.displacement_m)
    result = PLUGIN.run(clean(elapsed_s=time, displacement_m=value))
    assert result.start_s == pytest.approx(10 * step)
    assert result.k_m_per_s == pytest.approx(TRUE, rel=1e-9)


def test_baseline_before_zero_gives_the_static_level() -> None:
    """An offset seen in the readings before 0 is taken off."""
    t = clean()
    time = np.append(np.arange(-10.0, 0.0), t.elapsed_s)
    value = np.append(np.zeros(10), t.displacement_m) + 0.05
    assert found(clean(elapsed_s=time, displacement_m=value)) == pytest.approx(1.0, rel=1e-9)


def test_trend_before_the_test_is_taken_off() -> None:
    """A steady trend in the baseline is subtracted from the test, and told."""
    t = clean()
    lag = t.elapsed_s[-1] / 4
    time = np.append(np.linspace(-lag, -1.0, 40), t.elapsed_s)
    value = np.append(np.zeros(40), t.displacement_m) + 0.002 * time / lag
    test = clean(elapsed_s=time, displacement_m=value)
    assert found(test) == pytest.approx(1.0, rel=1e-6)
    assert any("trend" in words for words in PLUGIN.run(test).notes)


def test_chosen_start_is_honoured_and_recorded() -> None:
    """The user's start is used, and the analysis says it was the user's."""
    t = clean(chosen_start_s=5.0)
    analysis = analyse(t, [PLUGIN])
    assert analysis.by_user
    assert analysis.results[0].start_s == 5.0
    assert analysis.results[0].k_as_fitted_m_per_s == pytest.approx(TRUE, rel=1e-6)


def test_start_chosen_after_the_last_reading_is_refused() -> None:
    """A start that no reading follows is an error with advice."""
    with pytest.raises(DataError, match="chosen start"):
        PLUGIN.run(clean(chosen_start_s=1e9))


def test_displacement_within_noise_is_refused() -> None:
    """A displacement that does not stand out of the noise gives no K."""
    rng = np.random.default_rng(1)
    t = exponential_test(TRUE, log_ratio=3.0, initial=0.01)
    noisy = dataclasses.replace(
        t, displacement_m=np.abs(t.displacement_m + rng.normal(0, 0.01, t.elapsed_s.size))
    )
    with pytest.raises(DataError, match="in noise of"):
        PLUGIN.run(noisy)


def test_gap_while_the_head_falls_is_doubted() -> None:
    """A hole in the record in the steep part makes the test qualified."""
    t = clean()
    keep = (np.arange(120) < 8) | (np.arange(120) > 40)
    result = PLUGIN.run(clean(elapsed_s=t.elapsed_s[keep], displacement_m=t.displacement_m[keep]))
    assert result.grade == "qualified"
    assert any("no readings between" in words for words in result.notes)
