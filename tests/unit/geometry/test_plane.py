"""The section plane: distances, sides, bends and the way back."""

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.geometry import SectionPlane

BENT = SectionPlane(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0]]))


def test_distance_runs_along_the_line_and_offset_to_its_right():
    """Distance, elevation and signed offset of points beside each piece."""
    distance, elevation, offset = BENT.to_section([[50, -3, 5], [103, 20, 1], [40, 6, 0]])
    assert distance.tolist() == [50, 120, 40]
    assert elevation.tolist() == [5, 1, 0]
    assert offset.tolist() == [3, 3, -6]


def test_the_line_runs_on_at_its_ends():
    """Points before the start and past the end have distances outside 0 to the length."""
    distance, _, offset = BENT.to_section([[-5, 0, 0], [100, 57, 0]])
    assert distance.tolist() == [-5, 157]
    assert offset.tolist() == [0, 0]


def test_azimuths_and_bends():
    """Azimuth of each piece, and where the pieces meet."""
    assert BENT.azimuths.tolist() == [90, 0]
    assert BENT.bends.tolist() == [0, 100, 150]


def test_repeated_vertices_are_one():
    """A vertex drawn twice makes no bend."""
    plane = SectionPlane(np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 9.0]]))
    assert plane.bends.tolist() == [0, 9]


def test_crossings_are_found_once():
    """Two lines that cross once meet at the same map point."""
    other = SectionPlane(np.array([[30.0, -10.0], [30.0, 40.0]]))
    assert BENT.crossings(other).tolist() == [[30, 10]]
    assert len(BENT.crossings(SectionPlane(np.array([[0.0, 5.0], [50.0, 5.0]])))) == 0


@pytest.mark.parametrize(
    "xy", [[[0.0, 0.0]], [[1.0, 2.0], [1.0, 2.0]], [[0.0, np.nan], [1.0, 1.0]]]
)
def test_a_line_of_one_point_is_refused(xy):
    """One point makes no plane."""
    with pytest.raises(DataError):
        SectionPlane(np.array(xy))
