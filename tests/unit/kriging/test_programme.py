"""The programme for a budget against all pairs, one by one, and against costs by hand.

The gain itself is held against brute force over results in test_forecast.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.design.programme import Limits, Work, programme, question

THRESHOLD = 0.3


def asked(model, cells, spots):
    """A question about a model, and the tests that could answer it."""
    support = kriging.Support.from_lines(list(spots))
    found = question(model, support, cells, THRESHOLD, volume=np.ones(len(cells)))
    return found, support


@pytest.fixture(scope="module")
def spots(cells):
    """Seven short zones near cells that are looked at."""
    places = np.asarray(cells)[:: max(len(cells) // 7, 1)][:7]
    half = np.array([0.0, 0.0, 0.5])
    return [np.array([p + half, p - half]) for p in places]


def gain_of(one, numbers):
    """What pieces of one test each teach together [m3]."""
    joint, total = replace(one.joint), 0.0
    for number in numbers:
        rows = np.array([number])
        total += float(joint.gain([rows], one.sizes, None)[0])
        joint.accept(rows)
    return total


def test_two_steps_are_the_best_pair(fitted, cells, spots) -> None:
    """Equal costs and money for two: no pair of all twenty-one teaches more."""
    one, _ = asked(fitted, cells, spots)
    works = [Work((k,), 1.0, 1.0) for k in range(len(spots))]
    found = programme([one], works, Limits(2.0, math.inf, {}))
    best = max(gain_of(one, pair) for pair in itertools.permutations(range(len(spots)), 2))
    assert len(found.steps) == 2
    assert sum(s.gains[0] for s in found.steps) == pytest.approx(best, rel=0.02)


def test_the_first_gain_is_that_of_the_advice(fitted, cells, spots) -> None:
    """Alone in the list a test teaches what the ranking of next tests says."""
    one, support = asked(fitted, cells, spots)
    alone = programme([one], [Work((2,), 1.0, 1.0)], Limits(1.0, math.inf, {}))
    batch = kriging.next_tests(
        fitted, support.take(np.array([2])), np.asarray(cells), THRESHOLD, volume=1.0
    )
    assert alone.steps[0].gains[0] == pytest.approx(float(batch.gain[0]), rel=1e-3)


def test_a_rig_that_serves_two_holes_is_worth_its_cost(fitted, cells, spots) -> None:
    """By hand: one hole does not pay for the rig, two do; both are taken, and it is paid once."""
    one, _ = asked(fitted, cells, spots)
    alone = [gain_of(one, [k]) for k in range(len(spots))]
    pair = [int(k) for k in np.argsort(alone)[-2:]]
    works = [Work((k,), 1.0, 0.0, ("rig",)) for k in pair]
    first, both = max(alone), min(gain_of(one, pair), gain_of(one, pair[::-1]))
    limits = Limits(100.0, math.inf, {"rig": (4.0, 0.0)})
    # a value at which 1 + 4 is too dear for either, and 2 + 4 is worth both
    value = 0.5 * (6.0 / both + 5.0 / first)
    assert both * value > 6.0
    assert first * value < 5.0
    found = programme([one], works, replace(limits, value=value))
    assert sum(s.money for s in found.steps) == pytest.approx(6.0)
