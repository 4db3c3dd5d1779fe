"""Fits that hide a fault say so; the user's window is kept."""

import dataclasses

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.hydraulics import analyse, interval_value
from geoprofile.hydraulics.methods import hvorslev, partial_penetration, radial_storage
from geoprofile.hydraulics.readings import noise_level, treat
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.plugins import registry

METHODS = list(registry.plugins("methods").values())
CURVED = partial_penetration.example(1e-5)
LINE = hvorslev.example(1e-5)


def moved(test: HydraulicTest, value: np.ndarray, **changes: object) -> HydraulicTest:
    """The test with other readings."""
    return dataclasses.replace(test, displacement_m=value, **changes)


def notes(test: HydraulicTest, run: object = partial_penetration.run) -> str:
    """Notes of a result as one text."""
    return "; ".join(run(test).notes)  # type: ignore[operator]


def test_wrong_static_level_is_found_by_the_curve() -> None:
    """An offset of 6 % of H0 is seen, and K is nearer the truth than the line's."""
    shifted = moved(CURVED, CURVED.displacement_m + 0.048)
    result = partial_penetration.run(shifted)
    assert result.grade == "qualified"
    assert "off the static level" in "; ".join(result.notes)
    line = hvorslev.run(shifted)
    assert abs(np.log(result.k_m_per_s / 1e-5)) < abs(np.log(line.k_m_per_s / 1e-5))


def test_level_that_wanders_is_qualified() -> None:
    """A slow wave of 3 % of H0 is no recovery."""
    time = CURVED.elapsed_s
    wave = 0.025 * np.sin(2 * np.pi * time / time[-1] * 3)
    assert "wanders" in notes(moved(CURVED, CURVED.displacement_m + wave))


def test_readings_far_off_the_curve_are_qualified() -> None:
    """A plateau in the middle is not followed."""
    value = CURVED.displacement_m.copy()
    value[15:70] = value[15]
    assert "off the curve" in notes(moved(CURVED, value))


def test_absurd_storage_is_flagged() -> None:
    """Ss 1e-2 1/m in the readings is told as a sign of a pack or zone around the hole."""
    from geoprofile.hydraulics.recovery import radial_modes, recovery

    base = radial_storage.example(1e-5)
    alpha = base.hole_radius_m**2 * 1e-2 * 3.0 / 0.025**2
    tau = 2 * 3.0 * 1e-5 * base.elapsed_s[1:] / 0.025**2
    value = 0.8 * np.append(1.0, recovery(tau, alpha, radial_modes()))
    assert "not plausible" in notes(moved(base, value), radial_storage.run)


def test_chosen_window_holds_for_curves() -> None:
    """Only readings in the user's window are fitted, and few are refused."""
    test = dataclasses.replace(CURVED, chosen_window=(0.8, 0.2))
    result = partial_penetration.run(test)
    used = result.measured[result.used]
    assert used.max() <= 0.81
    assert used.min() >= 0.19
    assert result.k_m_per_s == pytest.approx(1e-5, rel=0.05)
    with pytest.raises(DataError, match="in the window"):
        partial_penetration.run(dataclasses.replace(CURVED, chosen_window=(0.305, 0.30)))


def test_line_that_starts_low_points_to_drainage() -> None:
    """A quick first fall of 20 % leaves the line at 0.8 of H0."""
    value = np.where(np.arange(120) > 0, 0.8, 1.0) * LINE.displacement_m
    assert "drainage" in notes(moved(LINE, value), hvorslev.run)


def test_plot_that_bends_down_is_qualified() -> None:
    """A start slower than the end is no quasi-steady recovery."""
    time = LINE.elapsed_s / LINE.elapsed_s[-1]
    value = 0.8 * np.exp(-4.0 * time**1.7)
    assert "bends down" in notes(moved(LINE, value), hvorslev.run)


def test_plot_that_bends_up_uses_the_window_of_the_method() -> None:
    """Storage bends the plot: the line is fitted in the window of the trade."""
    time = LINE.elapsed_s / LINE.elapsed_s[-1]
    value = 0.8 * np.exp(-4.0 * time**0.6)
    result = hvorslev.run(moved(LINE, value))
    assert result.window == hvorslev.WINDOW
    assert "bends (+" in "; ".join(result.notes)


def test_few_readings_in_the_window_widen_it() -> None:
    """With few readings the window opens until there are five, or all are used."""
    time = LINE.elapsed_s / LINE.elapsed_s[-1]
    value = 0.8 * np.exp(-4.0 * time**0.6)
    rows = np.append(np.arange(20), np.arange(20, 120, 12))
    thin = moved(LINE, value[rows], elapsed_s=LINE.elapsed_s[rows])
    assert hvorslev.run(thin).window != hvorslev.WINDOW


def test_chosen_window_with_too_few_readings_is_refused() -> None:
    """Two readings are no line."""
    with pytest.raises(DataError, match="readings between"):
        hvorslev.run(dataclasses.replace(LINE, chosen_window=(0.5001, 0.5)))


def test_chosen_window_in_which_the_head_rises_is_refused() -> None:
    """A rise has no time lag."""
    value = LINE.displacement_m.copy()
    value[60:70] = np.linspace(0.11, 0.12, 10)
    value[50:60] = 0.109
    test = moved(LINE, value, chosen_window=(0.1375, 0.135))
    with pytest.raises(DataError, match=r"does not fall back|readings between"):
        hvorslev.run(test)


def test_rough_line_is_qualified() -> None:
    """Readings far off their line are told."""
    rng = np.random.default_rng(2)
    value = LINE.displacement_m * np.exp(rng.normal(0.0, 0.25, 120))
    value[0] = 1.0
    text = notes(moved(LINE, value, chosen_window=(0.9, 0.1)), hvorslev.run)
    assert "off the line" in text


def test_few_readings_on_the_line_are_told() -> None:
    """Three readings in a window make the result qualified."""
    assert "only 3 readings in the window" in notes(
        dataclasses.replace(LINE, chosen_window=(0.5, 0.45)), hvorslev.run
    )


def test_underdamped_level_is_refused_by_methods_without_inertia() -> None:
    """The analysis names the refusal and prefers the method for oscillations."""
    test = registry.plugin("methods", "underdamped").example(1e-3)
    analysis = analyse(test, METHODS)
    assert analysis.best is not None
    assert analysis.best.method == "underdamped"
    assert "oscillates" in dict(analysis.not_applicable)["hvorslev"]


def test_no_method_left_is_a_rejected_analysis() -> None:
    """Nothing applies: no K, every reason told."""
    test = dataclasses.replace(
        LINE, kind="pressure pulse", shut_in_volume_m3=None, riser_radius_m=None
    )
    analysis = analyse(test, METHODS)
    assert analysis.best is None
    assert analysis.grade == "rejected"
    assert len(analysis.not_applicable) == len(METHODS)
    with pytest.raises(DataError, match="no test with a K"):
        interval_value([analysis])


def test_choice_that_cannot_be_run_leaves_no_k() -> None:
    """A chosen method that refuses the test is not replaced behind the user's back."""
    test = dataclasses.replace(LINE, chosen_method="pulse")
    analysis = analyse(test, METHODS)
    assert analysis.best is None
    assert analysis.by_user


def test_choice_for_another_kind_is_refused_with_its_reason() -> None:
    """A slug method cannot be insisted on for a test in pressure steps."""
    staged = registry.plugin("methods", "moye").example(1e-6)
    analysis = analyse(dataclasses.replace(staged, chosen_method="hvorslev"), METHODS)
    assert analysis.best is None
    assert "not constant head" in dict(analysis.not_applicable)["hvorslev"]


def test_tests_of_two_intervals_do_not_mix() -> None:
    """One value belongs to one interval."""
    other = dataclasses.replace(LINE, interval="other")
    with pytest.raises(DataError, match="2 intervals"):
        interval_value([analyse(t, [hvorslev.PLUGIN]) for t in (LINE, other)])


def test_lone_spikes_are_left_out_and_many_are_doubted() -> None:
    """Two spikes do not move K; a tenth of all readings makes the test qualified."""
    value = CURVED.displacement_m.copy()
    value[[30, 70]] += 0.3
    result = partial_penetration.run(moved(CURVED, value))
    assert result.k_m_per_s == pytest.approx(1e-5, rel=0.01)
    assert "lone readings" in "; ".join(result.notes)
    value[10:110:10] += 0.3
    assert "jump away" in "; ".join(treat(moved(CURVED, value)).doubts)


def test_readings_without_a_number_are_left_out() -> None:
    """A gap in the record is told."""
    value = CURVED.displacement_m.copy()
    value[5:8] = np.nan
    assert any("3 readings without a number" in r for r in treat(moved(CURVED, value)).remarks)


def test_slow_start_is_doubted() -> None:
    """Several readings on the way up are no instantaneous start."""
    step = CURVED.elapsed_s[1]
    time = np.append(np.arange(4) * step, CURVED.elapsed_s + 4 * step)
    value = np.append([0.2, 0.5, 0.6, 0.7], CURVED.displacement_m)
    doubts = treat(dataclasses.replace(CURVED, elapsed_s=time, displacement_m=value)).doubts
    assert any("slow start" in words for words in doubts)


def test_largest_displacement_at_the_end_is_refused() -> None:
    """A level that only rises is no recovery."""
    with pytest.raises(DataError, match="after the largest displacement"):
        treat(moved(CURVED, CURVED.displacement_m[::-1]))


def test_strong_trend_before_the_test_is_doubted() -> None:
    """A trend above 1 % of H0 per time lag is taken off, and makes the test qualified."""
    lag = CURVED.elapsed_s[-1] / 4
    time = np.append(np.linspace(-lag, -1.0, 30), CURVED.elapsed_s)
    value = np.append(np.zeros(30), CURVED.displacement_m) + 0.05 * time / lag
    doubts = treat(dataclasses.replace(CURVED, elapsed_s=time, displacement_m=value)).doubts
    assert any("drifted" in words for words in doubts)


def test_three_readings_before_zero_give_a_level_but_no_trend() -> None:
    """Few baseline readings are averaged."""
    time = np.append([-3.0, -2.0, -1.0], CURVED.elapsed_s)
    value = np.append(np.zeros(3), CURVED.displacement_m) + 0.02
    treated = treat(dataclasses.replace(CURVED, elapsed_s=time, displacement_m=value))
    assert treated.initial_m == pytest.approx(0.8)
    assert any("3 readings before 0" in words for words in treated.remarks)


def test_initial_displacement_is_read_from_a_line_through_noise() -> None:
    """H0 in noise is nearer the truth than the largest reading."""
    rng = np.random.default_rng(4)
    time = np.linspace(0.0, LINE.elapsed_s[-1], 2000)
    clean = np.interp(time, LINE.elapsed_s, LINE.displacement_m)
    value = clean + rng.normal(0.0, 0.01, 2000)
    treated = treat(moved(LINE, value, elapsed_s=time))
    assert treated.initial_m == pytest.approx(0.8, abs=0.012)


def test_noise_of_a_few_readings_is_not_known() -> None:
    """Under five readings say nothing of noise."""
    assert noise_level(np.array([1.0, 2.0])) == 0.0


def test_level_that_settles_off_static_is_told() -> None:
    """A plateau at 6 % of H0 is a wrong static level or a trend."""
    time = np.linspace(0.0, 8 * LINE.elapsed_s[-1] / 4, 300)
    value = 0.75 * np.exp(-time / (LINE.elapsed_s[-1] / 4)) + 0.05
    result = hvorslev.run(moved(LINE, value, elapsed_s=time, expected_displacement_m=0.8))
    assert "away from static" in "; ".join(result.notes)
