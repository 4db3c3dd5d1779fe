"""Ordinary kriging of the seven-sample example."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant

SAMPLES = np.array(
    [
        [61, 139, 477, 0.173],
        [63, 140, 696, 0.318],
        [64, 129, 227, 0.129],
        [68, 128, 646, 0.086],
        [71, 140, 606, 0.151],
        [73, 141, 791, 0.057],
        [75, 128, 783, 0.086],
    ]
)
TARGET = np.array([[65.0, 137.0, 0.0]])
COVARIANCE = kriging.Parameters(
    sill=10.0, length_along_m=10 / 3, length_across_m=10 / 3, length_vertical_m=1.0
)


def samples(value=None, variance=None):
    """The seven samples at elevation zero."""
    places = np.column_stack([SAMPLES[:, :2], np.zeros(7)])
    value = SAMPLES[:, 2] if value is None else value
    support = kriging.Support.from_points(places)
    return kriging.Data(support=support, value=value, variance=variance)


def test_estimate_and_variance_as_printed():
    """The estimate is 592.7 and the variance 8.96."""
    found = kriging.krige(samples(), COVARIANCE).predict(TARGET)
    assert found.mean[0] == pytest.approx(592.7, abs=0.05)  # printed to one decimal
    assert found.sd[0] ** 2 == pytest.approx(8.96, abs=0.005)  # printed to two


def test_weights_as_printed():
    """Each weight is the estimate of a field that is one there and zero at the other samples."""
    for row, unit in enumerate(np.eye(7)):
        found = kriging.krige(samples(unit), COVARIANCE).predict(TARGET)
        assert found.mean[0] == pytest.approx(SAMPLES[row, 3], abs=6e-4)  # printed to three


def test_variance_after_one_more_test():
    """A test at (66, 135) with variance 0.8 lowers the variance from 8.956 to 6.8994."""
    batch = kriging.next_tests(
        kriging.krige(samples(), COVARIANCE),
        kriging.Support.from_points(np.array([[66.0, 135.0, 0.0]])),
        TARGET,
        None,
        noise_variance=0.8,
    )
    assert 8.9561 - batch.gain[0] == pytest.approx(6.8994, abs=1e-4)  # given to four decimals


def test_restricted_likelihood_is_density_of_contrasts():
    """REML equals the log density of orthonormal error contrasts: ln of the samples, constant."""
    value, n = np.log(SAMPLES[:, 2]), 7
    data = samples(value, np.full(n, 1.5))
    system = System.build(Layout.of(data, Constant(), COVARIANCE), COVARIANCE)
    full = 10.0 * np.exp(
        -0.3 * np.linalg.norm(SAMPLES[:, None, :2] - SAMPLES[None, :, :2], axis=2)
    ) + 1.5 * np.eye(n)
    contrasts = np.linalg.qr(np.column_stack([np.ones(n), np.eye(n)[:, :6]]))[0][:, 1:]
    inner = contrasts.T @ full @ contrasts
    z = contrasts.T @ value
    density = -0.5 * (
        6 * np.log(2 * np.pi) + np.linalg.slogdet(inner)[1] + z @ np.linalg.solve(inner, z)
    )
    assert system.log_likelihood(value[:, None]) == pytest.approx(density, abs=1e-10)
