"""Laws of the estimate: where the site lies and how it is turned or listed changes nothing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile import kriging

PARAMETERS = {
    "sill": 0.6,
    "nugget": 0.05,
    "length_along_m": 60.0,
    "length_across_m": 30.0,
    "length_vertical_m": 4.0,
}


def site(seed):
    """Random intervals, values and targets."""
    rng = np.random.default_rng(seed)
    tops = rng.uniform([0, 0, -20], [200, 200, 0], (40, 3))
    lines = np.stack([tops, tops - rng.uniform(0, 2, (40, 1)) * [0, 0, 1.0]], axis=1)
    return lines, rng.normal(size=40), rng.uniform([0, 0, -20], [200, 200, 0], (25, 3))


def predict(lines, value, targets, mean, azimuth):
    """Mean and sd under known parameters."""
    data = kriging.Data(support=kriging.Support.from_lines(list(lines)), value=value)
    parameters = kriging.Parameters(mean=mean, azimuth_deg=azimuth, **PARAMETERS)
    found = kriging.krige(data, parameters).predict(targets)
    return np.array([found.mean, found.sd])


@pytest.mark.parametrize("mean", ["constant", "quadratic"])
@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 99), turn=st.floats(-180, 180), east=st.floats(-1e6, 1e6))
def test_shift_and_turn_change_nothing(mean, seed, turn, east):
    """Moving and turning site, targets and azimuth together leaves the estimate."""
    lines, value, targets = site(seed)
    angle = np.radians(turn)
    rotate = np.array(
        [[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    shift = np.array([east, 5e6, 100.0])
    before = predict(lines, value, targets, mean, 30.0)
    after = predict(lines @ rotate.T + shift, value, targets @ rotate.T + shift, mean, 30.0 + turn)
    np.testing.assert_allclose(before, after, atol=2e-6)  # coordinates of 5e6 m keep 1e-9 m


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 99))
def test_order_of_data_changes_nothing(seed):
    """Data listed in another order give the same estimate."""
    lines, value, targets = site(seed)
    order = np.random.default_rng(seed).permutation(len(value))
    before = predict(lines, value, targets, "quadratic", 30.0)
    after = predict(lines[order], value[order], targets, "quadratic", 30.0)
    np.testing.assert_allclose(before, after, atol=1e-9)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 99), level=st.floats(-5, 5))
def test_a_constant_is_carried_through(seed, level):
    """Adding a constant to the values adds it to the estimate: the level is free."""
    lines, value, targets = site(seed)
    before = predict(lines, value, targets, "quadratic", 30.0)
    after = predict(lines, value + level, targets, "quadratic", 30.0)
    np.testing.assert_allclose(before[0] + level, after[0], atol=1e-8)
    np.testing.assert_allclose(before[1], after[1], atol=1e-12)
