"""Laws of bands and extents over random grids: they tile, nest, stay valid and keep their area."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.special import ndtr, ndtri

from geoprofile.drawing.levels import band_label, concentration_levels, log_levels, nice_step
from geoprofile.geometry.contours import above, bands, polygons
from geoprofile.geometry.edges import traced
from geoprofile.geometry.grids import grid_over

LEVELS = [-1.0, -0.5, 0.0, 0.5, 1.0]


def grid_of(seed, smooth, step):
    """A random grid, smoothed, and rounded to a step so that plateaus lie on levels."""
    rng = np.random.default_rng(seed)
    values = gaussian_filter(rng.standard_normal((24, 31)), smooth)
    values *= 1.3 / max(float(np.abs(values).max()), 1e-9)
    if step:
        values = np.round(values / step) * step
    return 512_300 + 2.5 * np.arange(31), 4_986_100 + 2.5 * np.arange(24), values


def domain_of(x, y, kind):
    """A rectangle, a ring with a hole, or two parts."""
    box = shapely.box(x[0] + 1, y[0] + 1, x[-1] - 1, y[-1] - 1)
    if kind == "ring":
        return polygons(box.difference(box.centroid.buffer(12)))
    if kind == "parts":
        left = shapely.Point(x[8], y[8]).buffer(15)
        return polygons(shapely.union(left, shapely.Point(x[22], y[14]).buffer(15)))
    return polygons(box)


cases = st.tuples(
    st.integers(0, 10_000),
    st.sampled_from([0.0, 1.0, 4.0]),
    st.sampled_from([0.0, 0.1, 0.5]),
    st.sampled_from(["box", "ring", "parts"]),
)


@given(cases)
@settings(max_examples=60, deadline=None)
def test_bands_tile_their_domain(case):
    """Bands are valid MultiPolygons whose areas add up and which do not overlap, to 1e-9."""
    seed, smooth, step, kind = case
    x, y, values = grid_of(seed, smooth, step)
    domain = domain_of(x, y, kind)
    found = bands(x, y, values, LEVELS, domain)
    shapes = [b.shape for b in found]
    assert all(s.geom_type == "MultiPolygon" and s.is_valid for s in shapes)
    whole = domain.area
    assert sum(s.area for s in shapes) == pytest.approx(whole, rel=1e-9)
    union = shapely.union_all(shapes)
    assert union.symmetric_difference(domain).area <= 1e-8 * whole
    assert all(b.lower >= a.upper for a, b in pairwise(found))


@given(cases)
@settings(max_examples=40, deadline=None)
def test_bands_and_extents_say_the_same(case):
    """What lies above a level is the sum of the bands above it."""
    seed, smooth, step, kind = case
    x, y, values = grid_of(seed, smooth, step)
    domain = domain_of(x, y, kind)
    found = bands(x, y, values, LEVELS, domain)
    for level in LEVELS:
        summed = sum(b.shape.area for b in found if b.lower >= level)
        assert above(x, y, values, level, domain).area == pytest.approx(
            summed, abs=1e-8 * domain.area
        )


@given(cases)
@settings(max_examples=40, deadline=None)
def test_extents_of_rising_levels_nest(case):
    """A higher level lies inside every lower one."""
    seed, smooth, step, kind = case
    x, y, values = grid_of(seed, smooth, step)
    domain = domain_of(x, y, kind)
    wide = above(x, y, values, LEVELS[0], domain)
    for level in LEVELS[1:]:
        narrow = above(x, y, values, level, domain)
        assert narrow.difference(wide).area <= 1e-9 * domain.area
        wide = narrow


def bell(xy):
    """A probability that peaks at 1 and falls to both sides, 40 m along and 20 m across."""
    return np.exp(-(((xy[:, 0] - 70) / 40) ** 2) - ((xy[:, 1] - 50) / 20) ** 2)


@pytest.mark.parametrize("cell", [2.5, 5.0, 10.0, 14.0])
def test_area_agrees_with_counting_fine_cells(cell):
    """Extents over 1.4 to 900 cells: area within 0.5 % of counting cells of 0.1 m."""
    domain = polygons(shapely.box(0, 0, 150, 100))
    chances = traced(grid_over(domain, cell_m=cell), bell, (0.1, 0.3, 0.5, 0.9))
    fine = np.meshgrid(np.arange(0.05, 150, 0.1), np.arange(0.05, 100, 0.1))
    counted = bell(np.column_stack([a.ravel() for a in fine]))
    for level in (0.1, 0.3, 0.5, 0.9):
        area = chances.extent(level, domain).area
        assert area == pytest.approx(0.01 * np.sum(counted > level), rel=0.005)


def test_only_cells_near_an_edge_are_evaluated_finely():
    """A front across the map: fewer points than half the fine grid, and the edge in its place."""
    asked = []

    def front(xy):
        asked.append(len(xy))
        return ndtr((60.0 - xy[:, 0]) / 10.0)

    domain = polygons(shapely.box(0, 0, 150, 100))
    grid = grid_over(domain, cell_m=5.0)
    chances = traced(grid, front, (0.1, 0.5, 0.9))
    assert sum(asked) < 0.5 * chances.grid.inside.sum()
    for level in (0.1, 0.5, 0.9):
        edge = 60.0 - 10.0 * ndtri(level)
        assert chances.extent(level, domain).bounds[2] == pytest.approx(edge, abs=1e-6)


@given(st.integers(0, 10_000), st.sampled_from(["box", "ring", "parts"]))
@settings(max_examples=15, deadline=None)
def test_traced_extents_nest_and_stay_in_their_domain(seed, kind):
    """Whatever the probabilities, a surer extent lies in a less sure one and that in the domain."""
    x, y, values = grid_of(seed, 2.0, 0.0)
    domain = domain_of(x, y, kind)

    def evaluate(xy):
        places = (xy[:, 1] - y[0]) / 2.5, (xy[:, 0] - x[0]) / 2.5
        return ndtr(map_coordinates(3 * values, places, order=1, mode="nearest"))

    chances = traced(grid_over(domain, cell_m=6.0), evaluate, (0.1, 0.5, 0.9))
    wide = domain
    for level in (0.1, 0.5, 0.9):
        narrow = chances.extent(level, domain)
        assert narrow.is_valid
        assert narrow.difference(wide).area <= 1e-9 * domain.area
        wide = narrow


def test_a_constant_field_is_one_band():
    """A field that is constant, even on a level, fills its domain once."""
    x = y = np.arange(6.0)
    domain = polygons(shapely.box(0, 0, 5, 5))
    for value in (0.0, 0.3):
        (band,) = bands(x, y, np.full((6, 6), value), LEVELS, domain)
        assert band.shape.area == pytest.approx(25)


def test_unknown_cells_belong_to_no_band():
    """A cell with a NaN corner is left out, and nothing else."""
    x = y = np.arange(6.0)
    values = np.add.outer(x, y) / 5 - 1
    values[2, 2] = np.nan
    found = bands(x, y, values, LEVELS, polygons(shapely.box(0, 0, 5, 5)))
    assert sum(b.shape.area for b in found) == pytest.approx(25 - 4 * 0.5)


def test_nothing_known_makes_no_band():
    """Only NaN, or an empty domain: no bands and an empty extent."""
    x = y = np.arange(4.0)
    blank, whole = np.full((4, 4), np.nan), polygons(shapely.box(0, 0, 3, 3))
    assert bands(x, y, blank, LEVELS, whole) == []
    assert above(x, y, blank, 0.0, whole).is_empty
    assert bands(x, y, np.ones((4, 4)), LEVELS, shapely.MultiPolygon()) == []


@given(st.floats(1e-9, 1e5), st.floats(1.001, 1e9))
@settings(max_examples=100, deadline=None)
def test_levels_enclose_the_values(low, factor):
    """Round levels rise, enclose the values and are few."""
    levels = log_levels(low, low * factor)
    assert levels[0] <= low
    assert low * factor <= levels[-1]
    assert (np.diff(levels) > 0).all()
    assert len(levels) <= 21


@given(st.floats(0.01, 50), st.floats(0.01, 1e4))
@settings(max_examples=60, deadline=None)
def test_no_level_lies_below_the_reporting_limit(limit, high):
    """Below the lowest reporting limit nothing is told apart."""
    levels = concentration_levels(limit, 1e-4, high)
    assert levels[0] == limit
    assert min(levels) == limit


def test_words_of_bands():
    """Labels read as people write them."""
    assert band_label(-np.inf, 0.5, "ug/L") == "< 0.5 µg/L"
    assert band_label(3e-6, 1e-5, "m/s") == "3e-6 to 1e-5 m/s"
    assert band_label(0.5, 0.7, "1") == "50 to 70 %"
    assert band_label(1000, np.inf, "ug/L") == "> 1000 µg/L"


@given(st.floats(0.01, 1e5), st.integers(1, 12))
@settings(max_examples=60, deadline=None)
def test_a_nice_step_is_round_and_large_enough(span, pieces):
    """The step is 1, 2 or 5 times a power of ten and gives no more pieces than wanted."""
    step = nice_step(span, pieces)
    assert span / step <= pieces * (1 + 1e-6)
    assert f"{step:.5e}"[0] in "125"
