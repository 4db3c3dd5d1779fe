"""Doubt about the model itself: laws of the wider spread, in closed form."""

import numpy as np
import pytest
from scipy.stats import norm

from geoprofile.kriging.covariance.data import CrossValidation
from geoprofile.kriging.predict.doubt import (
    MOST,
    USUAL_GAIN,
    doubt_in_words,
    doubt_of,
    narrowed,
    trust,
    widened,
    widened_draws,
)
from geoprofile.kriging.predict.mixture import below, moments


def scored(field, constant):
    """A cross-validation of which only two scores count."""
    columns = ("mean", "sd", "residual", "position", "log_density", "group")
    none = {name: np.empty(0) for name in columns}
    share = {"coverage_50": 0.5, "coverage_80": 0.8, "coverage_95": 0.95}
    return CrossValidation(**none, **share, log_score=field, log_score_constant=constant)


def part(sd, weight=1.0, means=(0.0,)):
    """One member at places of several standard deviations."""
    sd = np.asarray(sd, dtype=float)
    return weight, np.tile(np.array(means), (len(sd), 1)), sd


def test_doubt_falls_with_what_the_field_gains_on_one_level():
    """Most where nothing is gained, a factor e less for every half a nat; usual where unknown."""
    assert doubt_of(scored(0.8, 0.8)) == pytest.approx(MOST)
    assert doubt_of(scored(0.9, 0.8)) == pytest.approx(MOST)
    assert doubt_of(scored(0.3, 0.8)) == pytest.approx(MOST / np.e)
    assert doubt_of(None) == pytest.approx(doubt_of(scored(0.0, USUAL_GAIN)))
    assert doubt_of(scored(0.3, float("nan"))) == doubt_of(None)


def test_far_from_data_a_distance_counts_by_the_trust():
    """Where data leave the whole sill of 1, Phi(3) becomes Phi(3 x 0.7); at a datum nothing."""
    wide = widened([part([1.0, 0.0])], [1.0], 0.3)
    chance = 1.0 - below(wide, 3.0)
    assert chance[0] == pytest.approx(norm.sf(3.0 * 0.7))
    assert chance[1] == 0.0
    np.testing.assert_allclose(trust([part([1.0, 0.5, 0.0])], [1.0], 0.4), [0.6, 0.9, 1.0])


@pytest.mark.parametrize("doubt", [0.0, 0.2, 0.6])
def test_without_the_doubt_again_predictions_are_what_they_were(doubt):
    """Two members, from a datum to far from all data and a mean that is unsure beyond the sill."""
    parts = [part([0.0, 0.3, 0.9, 1.0, 1.1], 0.7, means=(0.0, 1.0)), part([0.0, 0.2, 0.8, 1, 1.2])]
    parts[1] = (0.3, *parts[1][1:])
    sills = [1.0, 0.9]
    back = narrowed(widened(parts, sills, doubt), sills, doubt)
    for (_, means, sd), (_, means_back, sd_back) in zip(parts, back, strict=True):
        np.testing.assert_allclose(sd_back, sd, rtol=1e-12)
        np.testing.assert_allclose(means_back, means, rtol=1e-12, atol=1e-12)


def test_the_mean_stays_and_the_spread_between_members_widens_with_theirs():
    """Two members one apart, far from data: mean 0.5, standard deviations over 0.8."""
    parts = [part([1.0], 0.5), part([1.0], 0.5, means=(1.0,))]
    wide = widened(parts, [1.0, 1.0], 0.2)
    mean, sd = moments(wide)
    assert mean[0] == pytest.approx(0.5)
    assert sd[0] == pytest.approx(np.sqrt(1.0 + 0.25) / 0.8)
    assert 1.0 - below(wide, 0.5)[0] == pytest.approx(0.5)


def test_without_doubt_nothing_changes():
    """The same arrays."""
    parts = [part([0.3, 1.0])]
    assert widened(parts, [1.0], 0.0) == tuple(parts)


def test_a_reader_is_told_where_the_spread_is_much_wider():
    """Nothing gained: 1 / (1 - 0.6) = 2.5 times; a gain of one nat: 1.1 times, not told."""
    (words,) = doubt_in_words(scored(0.8, 0.8))
    assert "2.5 times as wide" in words
    assert doubt_in_words(scored(0.0, 1.0)) == ()


def test_fields_drawn_lie_as_much_farther_from_the_mean_as_predictions_do():
    """By hand: mean 1, doubt .3; where all of the sill is left .7 becomes 1, where none is, .7."""
    drawn = np.array([[1.7, 1.7], [0.3, 1.0]])
    believed = [part([1.0, 0.0], means=(1.0,))]
    fields = iter([(slice(0, 2), drawn)])
    [(rows, found)] = widened_draws(fields, np.zeros((2, 3)), lambda xyz: believed, [1.0], 0.3)
    assert rows == slice(0, 2)
    assert found == pytest.approx(np.array([[2.0, 1.7], [0.0, 1.0]]))
