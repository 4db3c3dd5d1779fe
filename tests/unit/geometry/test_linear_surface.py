"""Surfaces through points."""

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from geoprofile.errors import DataError
from geoprofile.geometry.linear_surface import ROWS, Cones


def test_cones_agree_with_a_reference_library():
    """Scipy's interpolator with its linear kernel gives the same surface."""
    rng = np.random.default_rng(1)
    xy, values = rng.uniform(0, 500, (30, 2)), rng.normal(20, 5, 30)
    places = rng.uniform(-300, 800, (ROWS + 100, 2))
    peer = RBFInterpolator(xy, values, kernel="linear", degree=0)(places)
    assert Cones.through(xy, values).at(places) == pytest.approx(peer, abs=1e-8)


def test_a_surface_passes_through_its_points():
    """Also where they lie on a line; points that coincide count once, at their mean."""
    xy = np.array([[0.0, 0.0], [10.0, 10.0], [30.0, 30.0], [30.0, 30.0]])
    surface = Cones.through(xy, np.array([1.0, 4.0, 2.0, 3.0]))
    assert surface.at(xy) == pytest.approx([1.0, 4.0, 2.5, 2.5])


def test_one_point_makes_a_level():
    """Nothing else is known."""
    assert Cones.through(np.zeros((1, 2)), np.array([7.0])).at(np.ones((2, 2))) == pytest.approx(7)


def test_held_stays_in_the_range_of_the_values():
    """Away from the points the surface does not leave their range."""
    rng = np.random.default_rng(2)
    surface = Cones.through(rng.uniform(0, 9, (8, 2)), rng.normal(size=8))
    far = surface.held(rng.uniform(-1e4, 1e4, (500, 2)))
    assert surface.lowest <= far.min() <= far.max() <= surface.highest


def test_no_point_makes_no_surface():
    """Nothing is made up."""
    with pytest.raises(DataError, match="no point"):
        Cones.through(np.empty((0, 2)), np.empty(0))


def test_the_error_of_a_surface_is_that_of_kriging():
    """Between two points of a linear variogram: nothing at them, s h / 2 in the middle, by hand."""
    surface = Cones.through(np.array([[0.0, 0.0], [10.0, 0.0]]), np.array([0.0, 4.0]))
    # variogram slope from one contrast: 4^2 / (2 * 10) = 0.8; weights one half each
    assert surface.slope == pytest.approx(0.8)
    found = surface.sd(np.array([[0.0, 0.0], [5.0, 0.0], [10.0, 0.0]]))
    assert found[[0, 2]] == pytest.approx(0.0, abs=1e-6)
    assert found[1] ** 2 == pytest.approx(2 * 0.8 * 5.0 - 0.5 * 0.8 * 10.0)


def test_the_slope_comes_back_from_random_walks():
    """On a line a linear variogram is that of a random walk; its slope comes back within 15 %."""
    rng = np.random.default_rng(3)
    x = np.sort(rng.uniform(0, 1000, 400))
    steps = np.sqrt(2 * 0.3 * np.diff(x)) * rng.normal(size=399)
    walk = np.append(0.0, np.cumsum(steps))
    surface = Cones.through(np.column_stack([x, np.zeros(400)]), walk)
    assert surface.slope == pytest.approx(0.3, rel=0.15)  # twice its standard error, 0.07
