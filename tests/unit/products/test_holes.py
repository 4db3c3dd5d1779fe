"""From tables to paths and intervals: every fault is told, none is hidden."""

import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.drawing.levels import concentration_levels
from geoprofile.errors import DataErrors
from geoprofile.geometry.contours import bands
from geoprofile.products.boreholes.inputs import interval_lines, paths_of
from geoprofile.products.boreholes.surfaces import Surface, water_of
from geoprofile.products.maps.mapping import bandwidth_of, chosen_elevations, round_elevations
from geoprofile.site import Site


def test_paths_come_in_the_order_of_the_table(mapped_site):
    """Every borehole has a path; only the surveyed one leans."""
    paths = paths_of(mapped_site)
    assert list(paths) == list(mapped_site.boreholes["borehole"])
    assert [name for name, path in paths.items() if path.surveyed] == ["B5"]


def test_stations_may_come_in_any_order(mapped_site):
    """The survey is sorted by depth before it is used."""
    shuffled = mapped_site.table("survey").iloc[::-1]
    one = paths_of(mapped_site)["B5"].at([30.0])
    other = paths_of(mapped_site.with_tables({"survey": shuffled}))["B5"].at([30.0])
    assert one.tolist() == other.tolist()


def test_every_bad_survey_is_told(mapped_site):
    """Two holes with repeated stations make two problems that name them."""
    bad = mapped_site.table("survey").assign(depth_m=3.0)
    bad = pd.concat([bad, bad.assign(borehole="B6")])
    with pytest.raises(DataErrors) as caught:
        paths_of(mapped_site.with_tables({"survey": bad}))
    assert [p.where for p in caught.value.problems] == ["survey of B5", "survey of B6"]


def test_every_bad_interval_is_told(mapped_site):
    """An unknown borehole and an interval upside down are both told."""
    intervals = mapped_site.table("interval").copy()
    intervals.loc[0, "borehole"] = "Z9"
    intervals.loc[5, "bottom_m"] = 0.5
    with pytest.raises(DataErrors) as caught:
        interval_lines(mapped_site.with_tables({"interval": intervals}))
    assert len(caught.value.problems) == 2
    assert "Z9" in caught.value.problems[0].found


def test_elevations_are_round_and_inside_the_intervals():
    """Round elevations over the middle 80 %; the user's own come first."""
    middles = np.linspace(-23.0, 4.0, 50)
    found = round_elevations(middles)
    assert found == [0.0, -5.0, -10.0, -15.0, -20.0]
    assert round_elevations(np.empty(0)) == []
    assert round_elevations(np.full(9, -4.02)) == [-4.0]
    bare = Site("bare", "EPSG:32628", "local datum")
    assert chosen_elevations(bare, [-3, 2]) == [2.0, -3.0]


def test_levels_without_a_limit_or_a_value(mapped_site):
    """No reporting limit: plain levels; no result at all: one level to begin with."""
    assert concentration_levels(None, 2.0, 40.0) == [1.0, 3.0, 10.0, 30.0, 100.0]
    bare = Site("bare", "EPSG:32628", "local datum")
    assert bandwidth_of(bare, "toluene").levels[0] == 1.0
    unseen = mapped_site.table("concentration").assign(
        detected=False, value_ug_per_l=np.nan, limit_ug_per_l=0.5
    )
    blank = bandwidth_of(mapped_site.with_tables({"concentration": unseen}), "toluene")
    assert blank.levels[0] == 0.5


def test_one_point_makes_a_level_surface():
    """A surface through one point is flat; one through more passes through each of them."""
    flat = Surface(np.array([[3.0, 4.0]]), np.array([7.0]))
    assert flat.at(np.array([[0.0, 0.0], [9.0, 9.0]])).tolist() == [7.0, 7.0]
    places = np.array([[0.0, 0.0], [10.0, 0.0], [4.0, 7.0]])
    through = Surface(places, np.array([1.0, 2.0, 5.0])).at(places)
    assert through == pytest.approx([1.0, 2.0, 5.0])


def test_the_water_level_is_the_shallowest_head_of_the_latest_day(mapped_site):
    """Older heads and deeper zones do not count; no head, no water level."""
    heads = mapped_site.table("head")
    older = heads.assign(measured_at="2030-01-01T00:00:00Z", head_m=99.0)
    deeper = heads.assign(head_m=-50.0)
    deeper = deeper.set_geometry(shapely.force_3d(shapely.force_2d(deeper.geometry), z=-20.0))
    several = pd.concat([older, deeper, heads])
    water = water_of(mapped_site.with_tables({"head": several}))
    plain = water_of(mapped_site)
    assert water.elevation_m.tolist() == plain.elevation_m.tolist()
    assert water.notes == "2031-05-06"
    assert water_of(mapped_site.with_tables({"head": heads.iloc[:0]})) is None


def test_bands_leave_out_what_does_not_reach_the_domain():
    """Levels beyond the values make no bands."""
    x = y = np.arange(5.0)
    found = bands(x, y, np.add.outer(y, x), [-5.0, 4.0, 50.0], shapely.box(0, 0, 4, 4))
    assert [(b.lower, b.upper) for b in found] == [(-5.0, 4.0), (4.0, 50.0)]
