"""Weights of members from the boreholes that they predict."""

import numpy as np
import pytest

from geoprofile.kriging.fit.validation import held_back, stack_weights


def test_better_member_takes_all_when_it_is_always_better():
    """A member whose density is everywhere ten times the other's carries all the weight."""
    scores = np.log(np.tile([1.0, 0.1], (30, 1)))
    np.testing.assert_allclose(stack_weights(scores), [1.0, 0.0], atol=1e-6)


def test_members_that_take_turns_share():
    """Where each predicts half of the data far better, each weighs a half."""
    scores = np.log(np.tile([[1.0, 0.01], [0.01, 1.0]], (15, 1)))
    np.testing.assert_allclose(stack_weights(scores), [0.5, 0.5], atol=1e-6)


def test_ten_boreholes_weigh_as_much_as_equal_shares():
    """All weight on one of two members becomes 1/2 + 1/4 with ten boreholes."""
    np.testing.assert_allclose(held_back(np.array([1.0, 0.0]), 10), [0.75, 0.25])


def test_many_boreholes_speak_for_themselves():
    """With a thousand boreholes the scores decide, and what has no weight is left out."""
    np.testing.assert_allclose(
        held_back(np.array([0.7, 0.3, 0.0]), 1000), [0.7, 0.3, 0], atol=0.002
    )


@pytest.mark.parametrize("boreholes", [3, 12, 40])
def test_members_that_hardly_weigh_are_left_out(boreholes):
    """Few boreholes rule out none of five members; hundreds leave out those below two percent."""
    shares = np.array([0.5, 0.3, 0.19, 0.01, 0.0])
    assert held_back(shares, boreholes).all()
    found = held_back(shares, 50 * boreholes + 200)
    assert np.flatnonzero(found).tolist() == [0, 1, 2]
    assert found.sum() == pytest.approx(1.0)
