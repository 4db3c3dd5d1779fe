"""Laws of borehole paths and section planes over random cases."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.geometry import SectionPlane, trajectory

angles = st.floats(0, 80)
turns = st.floats(0, 360)


@st.composite
def surveys(draw):
    """Two to six stations that lean less than 80 degrees."""
    count = draw(st.integers(2, 6))
    gaps = draw(st.lists(st.floats(0.5, 30), min_size=count - 1, max_size=count - 1))
    depth = np.concatenate([[0.0], np.cumsum(gaps)])
    lean = draw(st.lists(angles, min_size=count, max_size=count))
    turn = draw(st.lists(turns, min_size=count, max_size=count))
    return depth, np.array(lean), np.array(turn)


@given(surveys())
@settings(max_examples=60, deadline=None)
def test_length_of_the_path_is_depth_along_the_hole(survey):
    """Summed steps of a fine walk equal the depth walked: depth is measured along the hole."""
    path = trajectory((5e5, 4e6, 10), survey[0][-1] + 5, survey)
    depth = np.linspace(0, path.length_m, 4000)
    walked = np.linalg.norm(np.diff(path.at(depth), axis=0), axis=1).sum()
    assert abs(walked - path.length_m) < 1e-4 * path.length_m


@given(surveys(), st.floats(0.05, 0.95))
@settings(max_examples=60, deadline=None)
def test_a_station_read_off_the_path_changes_nothing(survey, share):
    """A further station with the direction that the path has there leaves the path as it was."""
    path = trajectory((0, 0, 0), survey[0][-1], survey)
    where = share * survey[0][-1]
    if np.min(np.abs(survey[0] - where)) < 1e-2:
        return
    step = 1e-5
    along = (path.at([where + step]) - path.at([where - step]))[0] / (2 * step)
    along /= np.linalg.norm(along)
    lean = np.degrees(np.arccos(np.clip(-along[2], -1, 1)))
    turn = np.degrees(np.arctan2(along[0], along[1])) % 360
    at = int(np.searchsorted(survey[0], where))
    more = tuple(np.insert(s, at, v) for s, v in zip(survey, (where, lean, turn), strict=True))
    again = trajectory((0, 0, 0), survey[0][-1], more)
    depth = np.linspace(0, survey[0][-1], 50)
    assert np.abs(again.at(depth) - path.at(depth)).max() < 1e-4


@given(surveys(), st.floats(0, 360))
@settings(max_examples=40, deadline=None)
def test_turning_the_azimuths_turns_the_path(survey, turn):
    """Adding an angle to every azimuth turns the path about the collar by that angle."""
    depth = np.linspace(0, survey[0][-1] + 3, 20)
    one = trajectory((0, 0, 0), 1, survey).at(depth)
    other = trajectory((0, 0, 0), 1, (survey[0], survey[1], survey[2] + turn)).at(depth)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    turned = np.column_stack([c * one[:, 0] + s * one[:, 1], c * one[:, 1] - s * one[:, 0]])
    assert np.abs(turned - other[:, :2]).max() < 1e-7
    assert np.abs(one[:, 2] - other[:, 2]).max() < 1e-7


@st.composite
def planes(draw):
    """A line of two to five vertices at map coordinates, pieces longer than 1 m."""
    count = draw(st.integers(1, 4))
    steps = draw(st.lists(st.tuples(st.floats(1, 200), turns), min_size=count, max_size=count))
    xy = [np.array([512_300.0, 4_986_100.0])]
    for length, turn in steps:
        angle = np.radians(turn)
        xy.append(xy[-1] + length * np.array([np.sin(angle), np.cos(angle)]))
    return SectionPlane(np.array(xy))


@given(planes(), st.lists(st.floats(0, 1), min_size=1, max_size=10))
@settings(max_examples=80, deadline=None)
def test_map_to_section_and_back(plane, shares):
    """A point of the plane comes back to within 1e-6 m, and lies on the plane."""
    distance = np.array(shares) * plane.length_m
    points = plane.to_map(distance, np.linspace(-30, 10, len(shares)))
    s, z, offset = plane.to_section(points)
    assert np.abs(offset).max() < 1e-6
    assert np.abs(plane.to_map(s, z) - points).max() < 1e-6


@given(surveys(), planes(), st.floats(0, 1), st.floats(-30, 30))
@settings(max_examples=80, deadline=None)
def test_a_leaning_hole_comes_back_from_the_section(survey, plane, share, aside):
    """Foot, elevation and offset to the right of the piece give every point back to 1e-6 m."""
    collar = plane.to_map([share * plane.length_m], [10.0])[0] + [aside, 0.0, 0.0]
    path = trajectory(tuple(collar), survey[0][-1], survey)
    points = path.at(np.linspace(0, path.length_m, 30))
    s, z, offset = plane.to_section(points)
    foot = plane.to_map(s, z)
    assert np.abs(np.linalg.norm(points - foot, axis=1) - np.abs(offset)).max() < 1e-6
    angle = np.radians(plane.azimuths_at(s))
    right = np.column_stack([np.cos(angle), -np.sin(angle), np.zeros(len(s))])
    clear = np.min(np.abs(s[:, None] - plane.bends[1:-1]), axis=1, initial=np.inf) > 1e-6
    assert np.abs((foot + offset[:, None] * right - points)[clear]).max(initial=0.0) < 1e-6
