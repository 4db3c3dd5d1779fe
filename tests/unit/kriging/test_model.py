"""What a fitted model answers, and which tests it asks for."""

import numpy as np
import plain_loops
import pytest
from scipy.special import ndtr, owens_t

from geoprofile import kriging
from geoprofile.kriging.covariance import kernels
from geoprofile.kriging.covariance.support import gauss_rule
from geoprofile.kriging.predict.mixture import below, both_below, quantile


def test_one_pass_equals_separate_calls(fitted, cells):
    """both() gives what predict, exceedance and quantile give."""
    whole = fitted.both(cells, 0.3, probabilities=(0.1, 0.9))
    np.testing.assert_array_equal(whole.sd, fitted.predict(cells).sd)
    np.testing.assert_array_equal(whole.exceedance, fitted.exceedance(cells, 0.3))
    np.testing.assert_array_equal(whole.quantiles[:, 1], fitted.quantile(cells, 0.9))
    assert (whole.quantiles[:, 0] < whole.median).all()


def test_quantile_inverts_the_distribution():
    """The probability below the quantile is the one asked for, mixtures included."""
    rng = np.random.default_rng(0)
    parts = [
        (0.3, rng.normal(size=(40, 7)), rng.uniform(0.01, 1, 40)),
        (0.7, 3 + rng.normal(size=(40, 5)), rng.uniform(0.01, 1, 40)),
    ]
    for probability in (0.01, 0.3, 0.5, 0.95):
        found = below(parts, quantile(parts, probability))
        np.testing.assert_allclose(found, probability, atol=1e-3)  # stated accuracy


def test_chances_are_those_of_the_normal():
    """Against scipy's to 1e-11, and to 1e-9 of itself in the tail; also at infinite levels."""
    level = np.array([-np.inf, -9.0, -3.0, -0.2, 0.0, 0.5, 2.0, 7.0, np.inf])
    sd = np.full(level.size, 1.3)
    means = np.column_stack([np.zeros(level.size), np.ones(level.size)])
    chance = ndtr((level[:, None] - means) / sd[:, None])
    mean, square = both_below([(1.0, means, sd)], level)
    np.testing.assert_allclose(mean, chance.mean(1), rtol=1e-9, atol=1e-300)
    np.testing.assert_allclose(square, (chance**2).mean(1), rtol=1e-9, atol=1e-300)
    np.testing.assert_allclose(mean, chance.mean(1), atol=1e-11)


def test_workers_and_order_change_nothing(fitted, cells):
    """One thread or several, forwards or backwards: the same numbers."""
    one = fitted.predict(cells, workers=1).mean
    np.testing.assert_array_equal(one, fitted.predict(cells, workers=3).mean)
    np.testing.assert_allclose(one, fitted.predict(cells[::-1]).mean[::-1], atol=1e-12)


def test_progress_ends_at_total(fitted, cells):
    """The last report says that all tasks are done."""
    told = []
    fitted.predict(cells, progress=lambda done, total: told.append((done, total)))
    assert told[-1][0] == told[-1][1]


def test_gain_integral_is_owens_t():
    """Expected misclassification is 2 T(t, sqrt((1-rho)/rho)) (Owen's T, scipy), to 5e-4."""
    t = np.repeat([0.0, 0.3, 1.0, 2.5], 5)
    share = np.tile([0.01, 0.2, 0.6, 0.9, 0.97], 4)
    out = np.empty((20, 1))
    node, weight = gauss_rule(8)
    for loop in (kernels.gains, plain_loops.gains):
        loop(0.5 * t * t, np.zeros(20), share[:, None], node, weight, out)
        before = 2 * owens_t(t, 1e9)
        exact = before - 2 * owens_t(t, np.sqrt((1 - share) / share))
        np.testing.assert_allclose(out[:, 0], exact, atol=5e-4)


def test_gains_add_up_whatever_the_order(fitted, cells):
    """A batch gains what its two halves gain one after the other."""
    node, weight = gauss_rule(8)
    half, known = np.array([0.2]), np.array([0.3])
    parts = np.empty((1, 1))
    whole = np.empty((1, 1))
    kernels.gains(half, known, np.array([[0.4]]), node, weight, whole)
    kernels.gains(half, known, np.array([[0.1]]), node, weight, parts)
    first = parts[0, 0]
    kernels.gains(half, known + 0.1, np.array([[0.3]]), node, weight, parts)
    assert whole[0, 0] == pytest.approx(first + parts[0, 0], abs=1e-5)


def test_variance_gain_equals_kriging_with_the_test(detected, truth, cells):
    """The promised fall in variance is what kriging with the two new tests gives."""
    model = kriging.krige(detected, truth)
    spots = np.array([[150.0, 150, -5], [40.0, 250, -10], [152.0, 150, -5]])
    batch = kriging.next_tests(
        model, kriging.Support.from_points(spots), cells, None, noise_variance=0.02, size=2
    )
    lines = (*detected.support.lines, *(spots[i][None] for i in batch.index))
    more = kriging.Data(
        support=kriging.Support(lines),
        value=np.append(detected.value, [0.0, 0.0]),
        variance=np.append(detected.variance, [0.02, 0.02]),
    )
    fall = model.predict(cells).sd ** 2 - kriging.krige(more, truth).predict(cells).sd ** 2
    assert batch.gain.sum() == pytest.approx(fall.sum(), rel=1e-6)


def test_twins_are_not_chosen_together(detected, truth, cells):
    """Of two tests at one place the second gains little: the batch goes elsewhere."""
    spots = np.array([[150.0, 150, -5], [150.0, 150, -5.01], [40.0, 250, -10]])
    batch = kriging.next_tests(
        kriging.krige(detected, truth), kriging.Support.from_points(spots), cells, None, size=2
    )
    assert 2 in batch.index


def test_whole_boreholes_and_costs(fitted, cells):
    """Units are ranked together; a tenfold price sends a hole to the end."""
    spots = np.array([[x, 150.0, z] for x in (100.0, 200.0) for z in (-3.0, -9.0, -15.0)])
    support, unit = kriging.Support.from_points(spots), [0, 0, 0, 1, 1, 1]
    free = kriging.next_tests(fitted, support, cells, 0.3, unit=unit, size=2)
    assert sorted(free.index) == [0, 1]
    assert 0.0 < free.share.sum() < 1.0
    price = np.where(np.arange(2) == free.index[0], 100.0, 1.0)
    dear = kriging.next_tests(fitted, support, cells, 0.3, unit=unit, cost=price, size=2)
    assert dear.index[0] == free.index[1]
