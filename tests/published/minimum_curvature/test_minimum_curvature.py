"""Borehole paths against a worked example, a reference library and closed forms."""

import numpy as np
import pytest

from geoprofile.geometry import trajectory


def test_worked_example_of_one_arc():
    """One arc as printed (see source.md)."""
    path = trajectory((0, 0, 0), 100, ([0, 100], [15, 25], [20, 45]))
    east, north, up = path.at([100.0])[0]
    assert (north, east, -up) == pytest.approx((27.22, 19.45, 94.01), abs=0.006)  # two digits


def test_four_stations_of_a_reference_library():
    """Positions as computed by a reference library (see source.md)."""
    path = trajectory((0, 0, 0), 95, ([0, 30, 60, 95], [12, 15, 17, 22], [110, 118, 131, 150]))
    east, north, up = path.at([95.0])[0]
    assert (north, east, -up) == pytest.approx((-16.64083, 20.25197, 91.03096), abs=1e-5)


@pytest.mark.parametrize("count", [2, 4, 10])
def test_quarter_circle(count):
    """A quarter circle of radius 100 m goes 100 m down and 100 m sideways, at any station count."""
    depth = np.linspace(0, 50 * np.pi, count)
    path = trajectory((0, 0, 0), 160, (depth, np.degrees(depth / 100), np.full(count, 90.0)))
    assert path.at([50 * np.pi])[0] == pytest.approx([100, 0, -100], abs=1e-9)
    inner = path.at([25 * np.pi])[0]
    half = 100 * np.sqrt(0.5)
    assert inner == pytest.approx([100 - half, 0, -half], abs=1e-9)


def test_one_degree_of_inclination():
    """One degree off vertical is 1.745 m aside after 100 m."""
    east, _, up = trajectory((0, 0, 0), 100, ([0], [1], [90])).at([100.0])[0]
    assert east == pytest.approx(100 * np.sin(np.radians(1)), abs=1e-9)
    assert up == pytest.approx(-100 * np.cos(np.radians(1)), abs=1e-9)
