"""Blanks of maps: with the bands they cover the site, and each says why nothing is shown."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.boreholes.surfaces import bottoms_of
from geoprofile.products.maps.blanks import distance_to_data
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.map_band import PLUGIN as BANDS
from geoprofile.schema import TABLES


@pytest.fixture
def tables(mapped_site, with_closed_fields):
    """Bands and blanks at chosen settings, of one statistic each."""

    def make(**changed):
        settings = {s.name: s.default for s in BANDS.settings}
        settings |= {"statistics": ["median"], "elevations_m": [-14.0], **changed}
        return BANDS.compute(mapped_site, settings, no_progress)

    return make


def test_bands_and_blanks_tile_the_site(tables, mapped_site):
    """Whatever the limits, bands and blanks cover each map once: area to 1e-9, no overlap."""
    made = tables(
        elevations_m=[40.0, 8.6, -14.0, -18.0], depths_m=[5.0, 26.0], farthest_m=30.0, most_sd=0.45
    )
    whole = domain_of(mapped_site)
    place = ["quantity", "surface", "elevation_m", "depth_m"]
    shapes: dict[tuple, list] = {}
    for name in ("map_band", "map_blank"):
        for key, rows in made[name].groupby(place, dropna=False):
            shapes.setdefault(tuple(map(str, key)), []).extend(rows.geometry)
    assert len(shapes) == 2 * 6
    for parts in shapes.values():
        assert all(s.geom_type == "MultiPolygon" and s.is_valid for s in parts)
        assert sum(s.area for s in parts) == pytest.approx(whole.area, rel=1e-9)
        assert shapely.union_all(parts).symmetric_difference(whole).area <= 1e-8 * whole.area


def test_a_blank_has_the_columns_of_the_schema(tables):
    """The table is complete, with its allowed words only, and its area is that of its shape."""
    table = tables(elevations_m=[-18.5], farthest_m=30.0, most_sd=0.45)["map_blank"]
    columns = [c.name for c in TABLES["map_blank"].columns if c.name != "run"]
    assert list(table.columns) == [*columns, "geometry"]
    assert set(table["reason"]) == {"below the boreholes", "far from data", "uncertain"}
    assert (table["area_m2"] == table.geometry.area).all()


def test_below_the_boreholes_nothing_is_shown(tables, mapped_site):
    """A point lies in that blank just where the surface through the bottoms is above the map."""
    table = tables(elevations_m=[-18.5], most_sd=0.0)["map_blank"]
    (blank,) = table[table["quantity"] == "K"].itertuples()
    assert blank.reason == "below the boreholes"
    assert blank.limit != blank.limit  # no number: the boreholes are the limit
    xy = np.random.default_rng(2).uniform([500_000, 4_000_000], [500_200, 4_000_120], (300, 2))
    away = bottoms_of(mapped_site).at(xy) + 18.5
    clear = np.abs(away) > 0.15  # linear between nodes 1.9 m apart
    assert clear.sum() > 200
    inside = shapely.contains_xy(blank.geometry, xy)
    assert (inside == (away > 0))[clear].all()


def test_far_from_data_is_measured_in_space(tables, mapped_site):
    """A point lies in that blank where the nearest interval is farther than the limit."""
    table = tables(elevations_m=[-6.0], farthest_m=22.0, most_sd=0.0)["map_blank"]
    (blank,) = table[table["quantity"] == "K"].itertuples()
    assert (blank.reason, blank.limit, blank.unit) == ("far from data", 22.0, "m")
    assert blank.label == "far from data (limit 22 m)"
    lines = [shapely.LineString(line) for line in interval_lines(mapped_site).values()]
    middles = np.array([np.array(s.coords).mean(axis=0) for s in lines])
    xy = np.random.default_rng(2).uniform([500_000, 4_000_000], [500_200, 4_000_120], (300, 2))
    points = np.column_stack([xy, np.full(300, -6.0)])
    away = np.linalg.norm(points[:, None] - middles, axis=2).min(axis=1)
    inside = shapely.contains_xy(blank.geometry, xy)
    clear = np.abs(away - 22.0) > 0.5  # ends of intervals lie nearer than their middles
    assert (inside == (away > 22.0))[clear].all()


def test_an_uncertain_part_is_blank(tables, closed_fields):
    """A point lies in that blank where the spread is above the limit."""
    table = tables(elevations_m=[-6.0], most_sd=0.4)["map_blank"]
    (blank,) = table[table["quantity"] == "toluene"].itertuples()
    assert (blank.reason, blank.limit) == ("uncertain", 0.4)
    assert blank.label == "uncertain by more than a factor of 2.5"
    xy = np.random.default_rng(2).uniform([500_000, 4_000_000], [500_200, 4_000_120], (300, 2))
    spread = closed_fields["toluene"].at(np.column_stack([xy, np.full(300, -6.0)])).log10_sd
    clear = np.abs(spread - 0.4) > 0.01
    assert (shapely.contains_xy(blank.geometry, xy) == (spread > 0.4))[clear].all()


def test_above_the_water_concentrations_are_blank_and_k_is_not(tables, mapped_site):
    """Between water and ground: the analyte has only a blank, K only bands."""
    made = tables(elevations_m=[8.5])
    assert set(made["map_band"]["quantity"]) == {"K"}
    (blank,) = made["map_blank"].itertuples()
    assert (blank.quantity, blank.reason) == ("toluene", "above the water level")
    assert blank.area_m2 == pytest.approx(domain_of(mapped_site).area)


def test_in_the_air_all_is_blank(tables):
    """Above all ground K is blank for that reason, and a finding says that there is no map."""
    made = tables(elevations_m=[40.0])
    reasons = dict(zip(made["map_blank"]["quantity"], made["map_blank"]["reason"], strict=True))
    assert reasons["K"] == "above ground"
    assert "no map of some quantity" in made["finding"]["what"].iloc[0]


def test_the_distance_to_data_is_from_the_whole_interval(mapped_site):
    """Half a metre beside the lower end of the deepest interval is half a metre away."""
    lines = interval_lines(mapped_site).values()
    end = min((line[-1] for line in lines), key=lambda place: place[2])
    field = SimpleNamespace(evidence=None)  # names no intervals: all of them count
    (away,) = distance_to_data(mapped_site, field, end[None, :] + [[0.0, 0.0, -0.5]])
    assert away == pytest.approx(0.5, abs=1e-9)
