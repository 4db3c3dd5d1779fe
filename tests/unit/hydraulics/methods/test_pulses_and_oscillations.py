"""Pulses and underdamped levels: set-up, refusals, friction and recognition."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import erfcx

from geoprofile.errors import DataError
from geoprofile.hydraulics.methods import pulse, underdamped
from geoprofile.hydraulics.oscillation import friction_damping, oscillation
from geoprofile.hydraulics.recovery import radial_modes, recovery
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.hydraulics.water import GRAVITY

UNDERDAMPED = underdamped.example(1e-3)
PULSE = pulse.example(1e-12)


def test_shut_in_zone_of_the_example_stores_as_a_hair() -> None:
    """Own example, twice computed: 10 m of 50 mm hole: 0.3355 mm, half left at 0.9 h."""
    volume = math.pi * 0.05**2 * 10.0
    test = dataclasses.replace(
        PULSE, shut_in_volume_m3=volume, system_compressibility_per_pa=4.6e-10,
        hole_radius_m=0.05, interval_length_m=10.0,
    )  # fmt: skip
    radius = pulse.equivalent_radius(test)
    assert radius == pytest.approx(0.3355e-3, rel=1e-3)
    alpha = 0.05**2 * 1e-6 * 10.0 / radius**2
    assert alpha == pytest.approx(0.222, rel=2e-3)
    half = recovery(np.array([2 * 0.28753]), alpha, radial_modes())[0]
    assert half == pytest.approx(0.5, abs=2e-4)
    hours = 0.28753 * radius**2 / (1e-12 * 10.0) / 3600
    assert hours == pytest.approx(0.899, rel=2e-3)


def test_large_storage_is_planar_flow() -> None:
    """For large alpha H/H0 tends to exp(4ab) erfc(2 sqrt(ab)) (own derivation)."""
    alpha, beta = 1e4, np.array([1e-6, 1e-5, 5e-5])
    found = recovery(2 * beta, alpha, radial_modes())
    assert found == pytest.approx(erfcx(2 * np.sqrt(alpha * beta)), abs=5e-3)


def test_compressibility_of_water_alone_is_told() -> None:
    """Real set-ups are softer than water."""
    test = dataclasses.replace(PULSE, system_compressibility_per_pa=4.6e-10)
    assert any("water alone" in words for words in pulse.run(test).notes)


def test_unknown_set_up_is_no_pulse() -> None:
    """Without volume or compressibility there is no K."""
    test = dataclasses.replace(PULSE, system_compressibility_per_pa=None)
    assert "unknown" in pulse.applies(test).reason
    with pytest.raises(DataError, match="no shut-in volume"):
        pulse.run(test)


def test_negative_pulse_gives_the_same_k() -> None:
    """A pulse may be drawn as well as pressed."""
    drawn = dataclasses.replace(PULSE, displacement_m=-PULSE.displacement_m)
    assert pulse.run(drawn).k_m_per_s == pytest.approx(pulse.run(PULSE).k_m_per_s)


@pytest.mark.parametrize("damping", [0.1, 0.64, 1.9, 2.0, 2.1, 5.0, 40.0])
def test_oscillation_is_the_solution_of_its_equation(damping: float) -> None:
    """The equation w'' + CD w' + w = 0 from rest, integrated by a general library, to 1e-8."""
    time = np.linspace(0.0, 15.0, 60)
    exact = solve_ivp(
        lambda _, y: [y[1], -damping * y[1] - y[0]], (0, 15), [1.0, 0.0], t_eval=time,
        rtol=1e-10, atol=1e-12, method="DOP853",
    )  # fmt: skip
    assert oscillation(time, damping) == pytest.approx(exact.y[0], abs=1e-8)


def test_heavy_damping_is_an_exponential() -> None:
    """Late in time a heavily damped oscillation falls as exp(-td/CD)."""
    late = oscillation(np.array([400.0, 500.0]), 100.0)
    assert math.log(late[0] / late[1]) == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize(("diameter", "damping"), [(0.0508, 0.0164), (0.0127, 0.262)])
def test_friction_of_a_ten_metre_column(diameter: float, damping: float) -> None:
    """Own example at 10 C, to the printed digits."""
    found = friction_damping(10.0, diameter / 2, math.sqrt(GRAVITY / 10.0))
    assert found == pytest.approx(damping, rel=3e-3)


def test_column_is_known_from_depths_or_given() -> None:
    """Static column and a share of the interval (Kipp 1985, from memory)."""
    test = dataclasses.replace(UNDERDAMPED, water_column_m=None)
    share = 1.5 * (0.025 / 0.048) ** 2
    assert underdamped.column_m(test) == pytest.approx(8.0 + share)
    assert underdamped.column_m(dataclasses.replace(test, static_depth_m=None)) is None


def test_column_far_off_is_qualified() -> None:
    """An oscillation that fits another column has a wrong start or is not linear."""
    test = dataclasses.replace(UNDERDAMPED, water_column_m=20.0)
    result = underdamped.run(test)
    assert result.grade == "qualified"
    assert any("fits a column" in words for words in result.notes)


def test_start_shift_is_fitted() -> None:
    """A logger that runs a second early costs nothing."""
    step = UNDERDAMPED.elapsed_s[1]
    time = np.append(np.arange(10) * step, UNDERDAMPED.elapsed_s + 10 * step + 0.4 * step)
    value = np.append(np.zeros(10), UNDERDAMPED.displacement_m)
    late = dataclasses.replace(UNDERDAMPED, elapsed_s=time, displacement_m=value)
    assert underdamped.run(late).k_m_per_s == pytest.approx(1e-3, rel=0.02)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"interval_length_m": 0.0}, "open end"),
        ({"static_depth_m": 13.0}, "crosses the water table"),
        ({"displacement_m": np.full(300, 0.01) * np.resize([1, -1], 300)}, "noise"),
    ],
)
def test_oscillation_says_why_not(changes: dict[str, object], words: str) -> None:
    """The refusals of the method."""
    fit = underdamped.applies(dataclasses.replace(UNDERDAMPED, **changes))
    assert not fit.applies
    assert words in fit.reason


def damped(damping: float, rate: float = 1.0) -> HydraulicTest:
    """Readings of a column with the given damping."""
    time = np.linspace(0.0, max(20.0, 5.0 * damping) / rate, 400)
    column = GRAVITY / rate**2
    return dataclasses.replace(
        UNDERDAMPED, elapsed_s=time, displacement_m=0.8 * oscillation(rate * time, damping),
        water_column_m=column, expected_displacement_m=None,
    )  # fmt: skip


def test_quick_recovery_without_overshoot_still_has_inertia() -> None:
    """Between damping 2 and 5 the branch without overshoot is used."""
    fit = underdamped.applies(damped(3.0))
    assert fit.applies
    assert "inertia counts" in fit.reason
    result = underdamped.run(damped(3.0))
    assert result.damping == pytest.approx(3.0, rel=0.05)


def test_slow_recovery_has_no_inertia() -> None:
    """Heavy damping is left to the other methods, even when the user insists."""
    assert not underdamped.applies(damped(40.0)).applies
    unknown = dataclasses.replace(damped(40.0), water_column_m=None, static_depth_m=None)
    assert "does not oscillate" in underdamped.applies(unknown).reason
    with pytest.raises(DataError, match="inertia does not show"):
        underdamped.run(damped(40.0))


def test_friction_that_explains_all_damping_is_refused() -> None:
    """In a narrow pipe the ground cannot be told from the pipe."""
    test = dataclasses.replace(damped(0.06), riser_radius_m=0.008)
    with pytest.raises(DataError, match="pipe friction"):
        underdamped.run(test)


def test_too_few_readings_of_a_oscillation_are_told() -> None:
    """Fewer than ten readings in one oscillation are qualified, fewer than ten at all refused."""
    test = damped(0.4)
    coarse = dataclasses.replace(
        test, elapsed_s=test.elapsed_s[::20], displacement_m=test.displacement_m[::20]
    )
    assert any("in one oscillation" in words for words in underdamped.run(coarse).notes)
    few = dataclasses.replace(
        test, elapsed_s=test.elapsed_s[:8], displacement_m=test.displacement_m[:8]
    )
    with pytest.raises(DataError, match="readings of an oscillation"):
        underdamped.run(few)


def test_oscillation_between_upper_boundary_and_base() -> None:
    """A closed layer has no steady state, and still damps an oscillation."""
    closed = dataclasses.replace(
        UNDERDAMPED, confined=True, aquifer_top_m=11.0, aquifer_base_m=16.0, water_column_m=4.0
    )
    assert 0.5e-3 < underdamped.run(closed).k_m_per_s < 2e-3


def test_oscillation_that_fits_badly_is_qualified() -> None:
    """A beat of two rates is no single column."""
    test = damped(0.15)
    value = test.displacement_m + 0.3 * np.cos(2.7 * test.elapsed_s) * np.exp(
        -0.05 * test.elapsed_s
    )
    result = underdamped.run(dataclasses.replace(test, displacement_m=value))
    assert any("off the curve" in words for words in result.notes)


def test_oscillation_at_a_k_beyond_any_column_is_no_example() -> None:
    """K 1e-6 m/s does not oscillate in any column of use."""
    with pytest.raises(DataError, match="water column"):
        underdamped.example(1e-6)
