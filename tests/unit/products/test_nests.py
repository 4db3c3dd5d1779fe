"""Nested wells: the shallow one does not hide the ground that its neighbour has shown."""

import numpy as np

from geoprofile.products.boreholes.surfaces import deepest_of_nests


def test_the_deepest_of_a_nest_counts():
    """Two holes 1.5 m apart count as one of 30 m; single holes stay as they are."""
    xy = np.array([[0.0, 0.0], [100.0, 0.0], [101.5, 0.0], [50.0, 80.0]])
    ends = np.array([-20.0, -8.0, -30.0, -12.0])
    kept, deep = deepest_of_nests(xy, ends)
    np.testing.assert_array_equal(kept, xy[[0, 2, 3]])
    np.testing.assert_array_equal(deep, ends[[0, 2, 3]])


def test_holes_apart_all_count():
    """Without nests nothing changes, whatever their order."""
    rng = np.random.default_rng(1)
    xy = rng.permutation(
        np.stack(np.meshgrid(np.arange(5), np.arange(4)), -1).reshape(-1, 2) * 20.0
    )
    ends = rng.normal(size=20)
    kept, deep = deepest_of_nests(xy, ends)
    np.testing.assert_array_equal(kept, xy)
    np.testing.assert_array_equal(deep, ends)


def test_one_hole_is_a_surface():
    """A site of one hole has a bottom."""
    kept, deep = deepest_of_nests(np.zeros((1, 2)), np.array([-5.0]))
    assert kept.shape == (1, 2)
    assert deep.tolist() == [-5.0]
