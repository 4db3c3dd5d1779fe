"""The surface under which nothing was measured: nests of wells, and one hole far too deep."""

from __future__ import annotations

import numpy as np

from geoprofile.products.boreholes.surfaces import deepest_of_nests, without_funnels

SQUARE = [[0.0, 0.0, -60.0], [80.0, 0.0, -55.0], [0.0, 60.0, -58.0], [80.0, 60.0, -61.0]]


def test_one_hole_far_deeper_than_the_site_is_wide_makes_no_funnel() -> None:
    """400 m among holes of 60 m on 100 m of ground: as deep as the deepest of the others."""
    ends = np.array([*SQUARE, [40.0, 30.0, -400.0]])
    assert list(without_funnels(ends)) == [-60.0, -55.0, -58.0, -61.0, -61.0]


def test_a_deeper_hole_of_a_wide_site_is_kept() -> None:
    """100 m among 60 m on 100 m of ground is an ordinary deep hole; so is one of two."""
    ends = np.array([*SQUARE, [40.0, 30.0, -100.0]])
    assert list(without_funnels(ends)) == list(ends[:, 2])
    assert list(without_funnels(ends[3:] * [1, 1, 9])) == [-549.0, -900.0]


def test_a_nest_of_wells_counts_as_its_deepest() -> None:
    """Three wells within 2 m and one 40 m off: two points."""
    xy = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.5], [40.0, 0.0]])
    places, low = deepest_of_nests(xy, np.array([-5.0, -30.0, -12.0, -20.0]))
    assert places.tolist() == [[1.0, 0.0], [40.0, 0.0]]
    assert low.tolist() == [-30.0, -20.0]
