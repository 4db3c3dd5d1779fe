"""Head contours of wells on known surfaces."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.surfaces import water_of
from geoprofile.products.heads.head_contour import PLUGIN, leaning
from geoprofile.site import Site

CRS = "EPSG:32628"
GRID = [(x, y) for x in np.arange(0, 201, 20.0) for y in np.arange(0, 101, 20.0)]


def site_of(places, day="2031-05-01", slope=0.005):
    """Wells with one head each, on a plane that falls to the east."""
    names = [f"W{i}" for i in range(len(places))]
    days = [day] * len(places) if isinstance(day, str) else day
    xy = np.array(places, dtype=float)
    head = 8.0 - slope * xy[:, 0]
    holes = gpd.GeoDataFrame(
        {"borehole": names, "x": xy[:, 0], "y": xy[:, 1], "ground_elevation_m": 10.0},
        geometry=gpd.points_from_xy(*xy.T),
        crs=CRS,
    )
    heads = gpd.GeoDataFrame(
        {
            "interval": None,
            "borehole": names,
            "measured_at": [d and f"{d}T09:00:00Z" for d in days],
            "head_m": head,
        },
        geometry=[shapely.Point(x, y, 5.0) for x, y in xy],
        crs=CRS,
    )
    return Site("wells", CRS, "", tables={"borehole": holes, "head": heads})


def contours(site, **changed):
    """What the layer makes."""
    settings = {s.name: s.default for s in PLUGIN.settings} | changed
    return PLUGIN.compute(site, settings, no_progress)


def test_lines_of_a_plane_are_straight_and_in_their_place():
    """A plane of 0.005 to the east: lines of 0.2 m stand 40 m apart, within half a metre."""
    table = contours(site_of(GRID))["head_contour"]
    assert sorted(table["head_m"]) == pytest.approx([7.0, 7.2, 7.4, 7.6, 7.8, 8.0])
    for row in table[table["head_m"] < 7.95].itertuples():
        inner = [x for x, y, _ in row.geometry.coords if 20 < y < 80]
        if 20 < (8.0 - row.head_m) / 0.005 < 180:
            assert inner == pytest.approx([(8.0 - row.head_m) / 0.005] * len(inner), abs=0.5)


def test_five_wells_on_a_plane_have_straight_lines():
    """Out to the outermost wells: x of every vertex to a millimetre of the grid's own error."""
    table = contours(site_of([(0, 0), (120, 10), (60, 60), (10, 110), (115, 120)]))["head_contour"]
    assert len(table) > 3
    for row in table.itertuples():
        across = [x for x, _, _ in row.geometry.coords]
        assert across == pytest.approx([(8.0 - row.head_m) / 0.005] * len(across), abs=0.001)


def test_every_line_lies_on_the_surface_at_its_own_height():
    """Z of a line is its head, and the surface there is within 2 mm of it."""
    rng = np.random.default_rng(1)
    site = site_of([tuple(p) for p in rng.uniform(0, 200, (9, 2))])
    water = leaning(water_of(site))
    table = contours(site)["head_contour"]
    assert len(table) >= 4
    for row in table.itertuples():
        points = shapely.get_coordinates(row.geometry, include_z=True)
        assert (points[:, 2] == row.head_m).all()
        middle = points[len(points) // 4 : -len(points) // 4, :2]
        assert water(middle) == pytest.approx([row.head_m] * len(middle), abs=0.002)


def test_lines_stay_between_the_wells():
    """No line goes farther beyond the outermost wells than 5 % of their extent."""
    site = site_of([(0, 0), (100, 10), (50, 90), (20, 60)])
    wells = shapely.MultiPoint([(0, 0), (100, 10), (50, 90), (20, 60)]).convex_hull
    for line in contours(site)["head_contour"].geometry:
        assert line.within(wells.buffer(0.05 * np.hypot(100, 90) + 0.01))


def test_an_interval_on_request():
    """Lines stand at multiples of the interval that was asked for."""
    table = contours(site_of(GRID), interval_m=0.25)["head_contour"]
    assert sorted(table["head_m"].unique()) == pytest.approx([7.0, 7.25, 7.5, 7.75, 8.0])
    assert "7.25 m" in set(table["label"])


def test_too_few_wells_draw_nothing_and_say_so():
    """Two heads: no line and a finding. No head at all: nothing to say."""
    made = contours(site_of([(0, 0), (100, 0)]))
    assert made["head_contour"].empty
    assert "heads in 2 borehole(s): no head contours" in made["finding"]["what"].iloc[0]
    bare = site_of(GRID)
    empty = bare.with_tables({"head": bare.table("head").iloc[:0]})
    assert contours(empty)["finding"].empty


@pytest.mark.parametrize(
    ("places", "day", "words"),
    [
        ([(0, 0), (50, 1), (100, 0), (150, 2)], "2031-05-01", "nearly on one line"),
        (
            [(0, 0), (100, 0), (0, 100)],
            ["2031-05-01", "2031-05-02", "2031-06-30"],
            "60 days apart",
        ),
        ([(0, 0), (100, 0), (0, 100)], ["2031-05-01", None, "2031-05-01"], "without a time"),
    ],
)
def test_doubtful_contours_are_drawn_with_a_warning(places, day, words):
    """Wells on a line, mixed dates, heads without a time: a finding, and a note on each line."""
    made = contours(site_of(places, day))
    assert any(words in what for what in made["finding"]["what"])
    assert made["head_contour"]["notes"].str.contains(words).all()
    assert len(made["head_contour"])


def test_a_level_surface_has_no_lines():
    """Equal heads everywhere: an empty table, no error."""
    assert contours(site_of(GRID, slope=0.0))["head_contour"].empty
