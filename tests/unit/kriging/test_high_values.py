"""Values near and above the highest result: laws of what stands for what, in closed form."""

from functools import partial

import numpy as np
import pytest
from scipy.stats import norm

from geoprofile.kriging.predict.doubt import widened_draws
from geoprofile.kriging.predict.high_values import COUNTS, HighValues
from geoprofile.kriging.predict.mixture import moments
from geoprofile.kriging.predict.statistics import chance_above, level_of, spread_of, summary_of

FAR, AT_A_DATUM = 1.0, 0.0  # what the data leave of a sill of 1
HIGH = HighValues(1.0, (1.0,))


def part(variance, mean=0.0, weight=1.0):
    """One member at places with some variances left."""
    sd = np.sqrt(np.asarray(variance, dtype=float))
    return weight, np.full((len(sd), 1), mean), sd


def test_below_the_high_values_nothing_changes():
    """A criterion at or below their beginning means itself, everywhere."""
    parts = [part([FAR, 0.3])]
    for level in (-1.0, 0.5, 1.0):
        assert HIGH.fitted(parts, level) == level
        told = chance_above(parts, threshold=level, high=HIGH)[0]
        np.testing.assert_array_equal(told, chance_above(parts, threshold=level)[0])


def test_far_from_data_a_distance_above_counts_less():
    """By hand: 0.6 above the beginning stands for a fitted level of 1 + 0.6 / COUNTS."""
    (found,) = chance_above([part([FAR])], threshold=1.6, high=HIGH)
    assert found[0] == pytest.approx(norm.sf(1.0 + 0.6 / COUNTS))


def test_where_a_test_stands_its_result_is_kept():
    """A high result is honoured: no variance is left there."""
    parts = [part([AT_A_DATUM], mean=1.5)]
    assert level_of(parts, probability=0.5, high=HIGH)[0] == pytest.approx(1.5)
    assert spread_of(parts, high=HIGH)[0][0] == pytest.approx(1.5)


def test_quantiles_and_chances_agree():
    """The level with 3 % above it is exceeded with 3 %."""
    parts = [part([0.8, 0.2], mean=0.4, weight=0.7), part([0.6, 0.5], mean=1.2, weight=0.3)]
    high = HighValues(1.0, (1.0, 1.0))
    level = level_of(parts, probability=0.97, high=high)[0]
    assert (level > 1.0).all()
    for row in range(2):
        chance = chance_above(parts, threshold=float(level[row]), high=high)[0][row]
        assert chance == pytest.approx(0.03, abs=5e-4)


def test_mean_and_spread_are_those_of_the_drawn_down_normal():
    """Against half a million draws of a mixture; means far below stay to the last bit."""
    rng = np.random.default_rng(1)
    parts = [part([0.8, 0.01], mean=0.9), part([0.8, 0.01], mean=-3.0)]
    parts = [(0.5, *parts[0][1:]), (0.5, *parts[1][1:])]
    high = HighValues(1.0, (1.0, 1.0))
    mean, sd = spread_of(parts, high=high)
    for row, variance in enumerate((0.8, 0.01)):
        drawn = rng.normal(0, np.sqrt(variance), 500_000) + np.where(
            rng.random(500_000) < 0.5, 0.9, -3.0
        )
        less = 1.0 - high.counts(parts)[row]
        made = drawn - less * np.maximum(drawn - 1.0, 0.0)
        assert mean[row] == pytest.approx(made.mean(), abs=0.01)
        assert sd[row] == pytest.approx(made.std(), rel=0.005)
    low = [part([0.1], mean=-3.0)]
    np.testing.assert_array_equal(spread_of(low, high=HIGH)[0], moments(low)[0])


def test_one_pass_says_the_same_as_the_questions_alone():
    """Median, mean, spread, chance and quantile of the summary."""
    parts = [part([0.9, 0.4, 0.0], mean=1.1)]
    median, mean, sd, above, upper = summary_of(
        parts, threshold=1.3, probabilities=(0.9,), high=HIGH
    )
    np.testing.assert_array_equal(above, chance_above(parts, threshold=1.3, high=HIGH)[0])
    np.testing.assert_array_equal(median, level_of(parts, probability=0.5, high=HIGH)[0])
    np.testing.assert_array_equal(upper, level_of(parts, probability=0.9, high=HIGH)[0])
    np.testing.assert_array_equal((mean, sd), spread_of(parts, high=HIGH))


def test_fields_drawn_exceed_as_often_as_predicted():
    """Twenty thousand draws of a place far from data, with the doubt."""
    believed = [part([FAR])]
    drawn = np.random.default_rng(2).normal(size=(20_000, 1))
    told = partial(widened_draws, places=np.zeros((1, 3)), believed=lambda _: believed)
    [(_, found)] = told(iter([(slice(0, 1), drawn)]), sills=[1.0], doubt=0.2, high=HIGH)
    chance = norm.sf((1.0 + 0.6 / COUNTS) * 0.8)
    assert np.mean(found > 1.6) == pytest.approx(chance, abs=4 * np.sqrt(chance / 20_000))
