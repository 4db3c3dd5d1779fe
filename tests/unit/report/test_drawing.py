"""Scales, paths and colours of the drawings."""

import pytest
import shapely

from geoprofile.report.svg import View, colours_of, ticks

VIEW = View(100.0, 50.0, 2.0, 4.0, 400.0, 300.0, (10.0, 20.0))


def test_places_follow_scale_and_margin():
    """5 m right of the corner is 10 px, 5 m below it 20 px."""
    assert (VIEW.x(105.0), VIEW.y(45.0)) == (20.0, 40.0)


def test_paths_follow_the_outline():
    """A square of 10 m is 20 px wide and 40 px high, closed."""
    path = VIEW.path(shapely.box(100, 40, 110, 50))
    assert path.startswith("M")
    assert path.endswith("z")
    assert "40" in path
    assert "20" in path


def test_vertical_lines_are_kept():
    """A vertical hole, which planar geometry calls invalid, is drawn."""
    assert VIEW.path(shapely.LineString([(105, 45), (105, 40)])) == "M20 40l0 20"


def test_a_path_stays_within_half_a_pixel():
    """A fine circle is drawn with far fewer points, none off by more than half a pixel."""
    fine = shapely.Point(150, 0).buffer(30, quad_segs=500)
    path = VIEW.path(fine)
    assert len(path) < 1500
    x, y = map(float, path[1 : path.index("l")].split())
    numbers = path[path.index("l") + 1 : -1].replace("-", " -").split()
    points = [(x, y)]
    for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
        points.append((points[-1][0] + float(dx), points[-1][1] + float(dy)))
    meant = shapely.Polygon([(VIEW.x(a), VIEW.y(b)) for a, b in fine.exterior.coords])
    drawn = shapely.Polygon(points)
    assert shapely.hausdorff_distance(meant.exterior, drawn.exterior) < 1.0  # thinning and rounding


def test_ticks_are_round():
    """Multiples of 1, 2 or 5 inside the ends."""
    assert ticks(-7.0, 12.0, 5) == [-5.0, 0.0, 5.0, 10.0]


def test_higher_is_darker():
    """The colours darken steadily with the value, so that a grey print keeps the order."""
    scale = colours_of("toluene", [1.0, None, 1000.0])

    def light(colour):
        return sum(int(colour[i : i + 2], 16) * w for i, w in ((1, 0.3), (3, 0.6), (5, 0.1)))

    shades = [light(scale.at(v)) for v in (1.0, 10.0, 100.0, 1000.0)]
    assert shades == sorted(shades, reverse=True)
    assert scale.at(None) == "#ffffff"
    assert (scale.levels[0], scale.levels[-1]) == pytest.approx((1.0, 1000.0))
