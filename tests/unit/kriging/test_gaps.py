"""Work that rests on results alone: gaps and holes by hand, and their turn in a programme."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile import kriging
from geoprofile.kriging.design.gaps import beside_a_result_above, gaps, nearest_zone
from geoprofile.kriging.design.programme import Limits, Work, programme, question

THRESHOLD = 0.3


def test_a_gap_lies_between_a_result_above_and_one_below() -> None:
    """By hand: above at 10 to 12 m between two below, the wider gap first; equal sides are none."""
    results = [(20.0, 22.0, False), (4.0, 6.0, False), (10.0, 12.0, True), (26.0, 28.0, False)]
    assert gaps(results, (2.0, 30.0)) == [(12.0, 20.0), (6.0, 10.0)]


def test_beyond_the_ends_of_a_hole_the_ground_counts_as_below() -> None:
    """A single result above is open upwards and downwards; one at the very end only inwards."""
    assert gaps([(10.0, 12.0, True)], (2.0, 30.0)) == [(12.0, 30.0), (2.0, 10.0)]
    assert gaps([(2.0, 4.0, True)], (2.0, 30.0)) == [(4.0, 30.0)]
    assert gaps([], (2.0, 30.0)) == []
    assert gaps([(10.0, 12.0, False)], (2.0, 30.0)) == []


@given(st.lists(st.booleans(), min_size=1, max_size=8))
def test_there_are_as_many_gaps_as_changes_of_side(sides: list[bool]) -> None:
    """Zones of 1 m every 3 m: each change, the ends counted as below, leaves 2 m of untested."""
    results = [(3.0 * k + 2.0, 3.0 * k + 3.0, side) for k, side in enumerate(sides)]
    walked = [False, *sides, False]
    changes = sum(a != b for a, b in pairwise(walked))
    found = gaps(results, (0.0, 3.0 * len(sides) + 2.0))
    assert len(found) == changes
    assert all(bottom - top == pytest.approx(2.0) for top, bottom in found)


def test_the_hole_next_to_a_result_above_comes_first() -> None:
    """By hand: 5 m, 20 m and 90 m away; each with the result that is nearest to it."""
    holes = np.array([[0.0, 90.0], [105.0, 0.0], [0.0, 20.0]])
    above = np.array([[0.0, 0.0], [100.0, 0.0]])
    assert beside_a_result_above(holes, above) == [(1, 1), (2, 0), (0, 0)]
    assert beside_a_result_above(holes, np.empty((0, 2))) == []
    assert beside_a_result_above(np.empty((0, 2)), above) == []


def test_the_zone_of_a_gap_does_not_leave_it() -> None:
    """A zone nearer to the middle that reaches beyond is not taken; nothing fits a short gap."""
    zones = np.array([[11.0, 21.0], [13.0, 15.0], [17.5, 19.5]])
    assert nearest_zone(zones, 16.0, (12.0, 20.0)) == 1
    assert nearest_zone(zones, 16.0, (15.5, 17.0)) is None


@pytest.fixture(scope="module")
def asked(fitted, cells):
    """A question with seven short zones near cells that are looked at."""
    places = np.asarray(cells)[:: max(len(cells) // 7, 1)][:7]
    half = np.array([0.0, 0.0, 0.5])
    support = kriging.Support.from_lines([np.array([p + half, p - half]) for p in places])
    return question(fitted, support, cells, THRESHOLD, volume=np.ones(len(cells)))


def test_every_second_step_is_the_surest_that_needs_no_model(asked) -> None:
    """Seven zones that cost the same: second and fourth are the two sure ones, then the model."""
    plain = [s.work for s in programme([asked], _works({}), Limits(7.0, math.inf, {})).steps]
    late = plain[-2:]  # what the model would do last
    sure = {late[0]: 1.0, late[1]: 2.0}
    found = [s.work for s in programme([asked], _works(sure), Limits(7.0, math.inf, {})).steps]
    assert found[1] == late[1]
    assert found[3] == late[0]
    assert sorted(found) == sorted(plain)


def test_a_sure_step_that_is_too_dear_waits(asked) -> None:
    """Money for two: the sure piece costs three and is left out, the model's order stands."""
    plain = programme([asked], _works({}), Limits(2.0, math.inf, {})).steps
    dear = max(set(range(7)) - {s.work for s in plain})
    works = [Work((k,), 3.0 if k == dear else 1.0, 1.0, sure=float(k == dear)) for k in range(7)]
    found = programme([asked], works, Limits(2.0, math.inf, {})).steps
    assert [s.work for s in found] == [s.work for s in plain]


def _works(sure: dict[int, float]) -> list[Work]:
    return [Work((k,), 1.0, 1.0, sure=sure.get(k, 0.0)) for k in range(7)]
