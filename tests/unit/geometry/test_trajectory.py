"""Rules of borehole paths that handbooks leave open."""

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.geometry import trajectory


def test_no_survey_means_vertical():
    """A hole without stations goes straight down and says that it was not surveyed."""
    path = trajectory((10, 20, 5), 30, None)
    assert path.at([0, 30]).tolist() == [[10, 20, 5], [10, 20, -25]]
    assert not path.surveyed
    assert path.line(3, 9).shape == (2, 3)


def test_one_station_at_the_collar_makes_a_straight_inclined_hole():
    """Only the direction at the collar known: the hole runs straight on in it."""
    path = trajectory((0, 0, 0), 10, ([0], [30], [180]))
    assert path.at([10])[0] == pytest.approx([0, -5, -10 * np.cos(np.pi / 6)])
    assert path.line(0, 10).shape == (2, 3)


def test_a_first_station_below_ground_starts_vertical():
    """Above the first station the hole bends from vertical at the collar to that station."""
    path = trajectory((0, 0, 0), 20, ([10], [90], [90]))
    radius = 10 / (np.pi / 2)
    assert path.at([10])[0] == pytest.approx([radius, 0, -radius])
    assert path.at([20])[0] == pytest.approx([radius + 10, 0, -radius])


def test_beyond_the_last_station_the_hole_runs_straight():
    """Equal steps beyond the last station are equal vectors."""
    path = trajectory((0, 0, 0), 60, ([0, 20], [5, 15], [10, 40]))
    steps = np.diff(path.at([20, 30, 40, 50]), axis=0)
    assert steps == pytest.approx(np.tile(steps[0], (3, 1)))
    assert np.linalg.norm(steps, axis=1) == pytest.approx(10.0)


def test_the_line_keeps_within_a_millimetre_of_the_arc():
    """Chords of the drawn line never leave the arc by more than 1 mm."""
    path = trajectory((0, 0, 0), 100, ([0, 30, 100], [0, 20, 70], [0, 45, 90]))
    line = path.line(0, 100)
    depth = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    depth *= 100 / depth[-1]
    for a, b, p, q in zip(depth[:-1], depth[1:], line[:-1], line[1:], strict=True):
        gap = path.at([(a + b) / 2])[0] - (p + q) / 2
        across = gap - (gap @ (q - p)) * (q - p) / ((q - p) @ (q - p))
        assert np.linalg.norm(across) < 1.05e-3


def test_depth_at_an_elevation_is_the_inverse_of_elevation():
    """Going down to an elevation and reading the elevation there gives it back."""
    path = trajectory((0, 0, 12), 40, ([0, 20], [10, 30], [0, 90]))
    depth = path.depth_at_elevation(-7.0)
    assert path.elevation([depth])[0] == pytest.approx(-7.0)
    assert np.isnan(path.depth_at_elevation(-100.0))
    assert path.vertical_depth([depth])[0] == pytest.approx(19.0)


@pytest.mark.parametrize(
    "stations",
    [
        ([0, 5, 5], [0, 1, 2], [0, 0, 0]),
        ([-1, 5], [0, 1], [0, 0]),
        ([0, np.nan], [0, 1], [0, 0]),
        ([0, 5], [90, 90], [0, 180]),
    ],
)
def test_stations_that_make_no_path_are_refused(stations):
    """Repeated, negative or missing depths, and a hole that turns right about."""
    with pytest.raises(DataError) as caught:
        trajectory((0, 0, 0), 10, stations)
    assert caught.value.problem.advice


def test_an_interval_upside_down_is_refused():
    """The top must lie above the bottom."""
    with pytest.raises(DataError, match="top above bottom"):
        trajectory((0, 0, 0), 10, None).line(5, 5)
