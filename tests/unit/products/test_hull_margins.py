"""The ground round the holes that maps cover where no site area is drawn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.products.maps.grids import hull_margins


def grid_of(holes: int, apart_m: float) -> np.ndarray:
    """Holes on a square grid at real coordinates."""
    side = np.arange(holes) * apart_m
    x, y = np.meshgrid(side, side)
    return np.column_stack([512_000.0 + x.ravel(), 5_411_000.0 + y.ravel()])


def test_a_grid_has_three_quarters_of_its_spacing() -> None:
    """By hand: 25 holes 20 m apart, 15 m."""
    assert hull_margins(grid_of(5, 20.0)) == pytest.approx(15.0)


def test_three_holes_have_a_quarter_of_their_extent() -> None:
    """By hand: a right triangle with legs of 60 and 80 m, extent 100 m; .75 x 60 is more."""
    assert hull_margins(np.array([[0.0, 0.0], [60.0, 0.0], [0.0, 80.0]])) == pytest.approx(25.0)


@pytest.mark.parametrize("holes", [[[5.0, 5.0]], [[5.0, 5.0], [6.0, 5.0]]])
def test_one_place_has_ten_metres(holes: list[list[float]]) -> None:
    """A hole, a nest."""
    assert hull_margins(np.array(holes)).tolist() == [10.0] * len(holes)


def test_wells_of_a_nest_look_for_the_next_place() -> None:
    """A second well 1 m beside each changes nothing."""
    one = grid_of(4, 20.0)
    assert hull_margins(np.vstack([one, np.add(one, (1.0, 0.0))])) == pytest.approx(15.0, rel=0.06)


@given(east=st.floats(-2000, 2000), north=st.floats(300, 2000))
def test_a_far_hole_widens_nothing_round_the_others(east: float, north: float) -> None:
    """A property: their margins stay within a few metres, whatever the new place."""
    old = grid_of(4, 20.0)
    new = np.vstack([old, old[0] + [east, north]])
    assert hull_margins(new)[:-1] == pytest.approx(hull_margins(old))
