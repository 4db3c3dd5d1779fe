"""Map layers of a small site whose field is known in closed form."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.special import ndtr

from geoprofile.errors import UsageError
from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.borehole_path import PLUGIN as PATHS
from geoprofile.products.maps.columns import column_of, mass_range
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.map_band import PLUGIN as BANDS
from geoprofile.products.plume.extents import PlumeBody
from geoprofile.products.plume.plume_extent import PLUGIN as EXTENT
from geoprofile.schema import TABLES


def settings_of(plugin, **changed):
    """Defaults of a plugin with some changed."""
    return {**{s.name: s.default for s in plugin.settings}, **changed}


def columns_of(table):
    """Columns that a layer writes, in order."""
    return [*(c.name for c in TABLES[table].columns if c.name != "run"), "geometry"]


@pytest.fixture(scope="module")
def ground_outline(mapped_site):
    """The site area."""
    return domain_of(mapped_site)


@pytest.fixture
def bands(mapped_site, with_closed_fields):
    """The table of bands."""
    return BANDS.compute(mapped_site, settings_of(BANDS), no_progress)["map_band"]


@pytest.fixture
def extents(mapped_site, with_closed_fields):
    """The table of extents."""
    return EXTENT.compute(mapped_site, settings_of(EXTENT), no_progress)["plume_extent"]


def test_a_path_per_borehole_ends_at_its_length(mapped_site):
    """Every hole has a line in 3D whose length is the hole's depth."""
    table = PATHS.compute(mapped_site, {}, no_progress)["borehole_path"]
    assert list(table.columns) == columns_of("borehole_path")
    for row in table.itertuples():
        steps = np.diff(shapely.get_coordinates(row.geometry, include_z=True), axis=0)
        assert np.linalg.norm(steps, axis=1).sum() == pytest.approx(row.length_m, rel=1e-5)
    assert table.set_index("borehole")["surveyed"].to_dict()["B5"]
    assert not table.set_index("borehole")["surveyed"].to_dict()["B1"]


def test_bands_have_the_columns_of_the_schema(bands):
    """The table is complete, with its allowed words only."""
    assert list(bands.columns) == columns_of("map_band")
    assert set(bands["surface"]) == {"elevation"}
    assert set(bands["statistic"]) == {"median", "probability"}
    assert set(bands.geom_type) == {"MultiPolygon"}
    assert bands.is_valid.all()


def test_bands_tile_the_site(bands, ground_outline):
    """Bands of one map cover the site once: area to 1e-9, overlaps below 1e-9."""
    whole = ground_outline.area
    for _, one in bands.groupby(["quantity", "statistic", "elevation_m"]):
        shapes = list(one.geometry)
        assert sum(s.area for s in shapes) == pytest.approx(whole, rel=1e-9)
        for i, a in enumerate(shapes):
            for b in shapes[i + 1 :]:
                assert a.intersection(b).area <= 1e-9 * whole


def test_only_one_band_lies_below_the_limit(bands):
    """Below the lowest reporting limit nothing is told apart."""
    medians = bands[(bands["quantity"] == "toluene") & (bands["statistic"] == "median")]
    open_below = medians[medians["lower"].isna()]
    assert set(open_below["label"]) == {"< 0.5 µg/L"}
    assert medians["lower"].dropna().min() == 0.5


def test_bands_contain_the_values_of_the_field(bands, closed_fields):
    """A random point lies in the band that holds the field's median there."""
    rng = np.random.default_rng(3)
    medians = bands[(bands["quantity"] == "K") & (bands["statistic"] == "median")]
    misses = 0
    points = rng.uniform([500_000, 4_000_000], [500_200, 4_000_120], (200, 2))
    for z, one in medians.groupby("elevation_m"):
        values = closed_fields["K"].at(np.column_stack([points, np.full(200, z)])).median
        for xy, value in zip(points, values, strict=True):
            row = one[one.contains(shapely.Point(xy))].iloc[0]
            low = row.lower if row.lower == row.lower else 0.0
            high = row.upper if row.upper == row.upper else np.inf
            misses += not low <= value <= high
        assert misses <= 4  # linear between nodes: points next to an edge may fall beyond it


def test_extents_nest(extents):
    """The 90 % extent lies in the 50 % one and that in the 10 %; any depth holds all."""
    assert list(extents.columns) == columns_of("plume_extent")
    for _, one in extents.groupby(extents["elevation_m"].fillna(-999.0)):
        ordered = list(one.sort_values("probability").geometry)
        for wide, narrow in pairwise(ordered):
            assert narrow.difference(wide).area <= 1e-9 * wide.area
    anywhere = extents[extents["surface"] == "any depth"].set_index("probability").geometry
    for row in extents[extents["surface"] == "elevation"].itertuples():
        assert row.geometry.difference(anywhere[row.probability]).area < 0.03 * row.area_m2


def test_area_of_an_extent_agrees_with_a_fine_raster(extents, closed_fields):
    """Area of the 50 % extent: within 0.5 % of counting cells of 0.5 m."""
    rows = extents[(extents["surface"] == "elevation") & (extents["probability"] == 0.5)]
    assert len(rows) > 1
    x, y = np.meshgrid(500_000 + np.arange(0.25, 200, 0.5), 4_000_000 + np.arange(0.25, 120, 0.5))
    for row in rows.itertuples():
        points = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, row.elevation_m)])
        counted = 0.25 * np.sum(closed_fields["toluene"].exceedance(points) > 0.5)
        assert row.area_m2 == pytest.approx(counted, rel=0.005)


def test_expected_volume_agrees_with_a_sum_over_small_boxes(extents, closed_fields, mapped_site):
    """Expected volume: within 2 % of adding probability times volume over fine boxes."""
    from geoprofile.products.maps.columns import counted_ground

    x, y = np.meshgrid(500_000 + np.arange(1.0, 200, 2), 4_000_000 + np.arange(1.0, 120, 2))
    xy = np.column_stack([x.ravel(), y.ravel()])
    top, base = counted_ground(mapped_site).top_and_base(xy)
    total = 0.0
    for share in np.arange(0.005, 1, 0.01):
        points = np.column_stack([xy, base + share * (top - base)])
        total += np.sum(closed_fields["toluene"].exceedance(points) * (top - base) * 0.01 * 4.0)
    row = extents[extents["surface"] == "any depth"].iloc[0]
    assert row.volume_m3 == pytest.approx(total, rel=0.02)
    assert row.volume_low_m3 < row.volume_m3 < row.volume_high_m3


def test_the_way_to_the_border_runs_along_the_flow(mapped_site, with_closed_fields):
    """Flow to the east: from the edge farthest east to the border at 200 m, within a metre."""
    flowing = mapped_site.with_tables({"flow": pd.DataFrame({"azimuth_deg": [90.0]})})
    settings = settings_of(EXTENT, elevations_m=[-8.0])
    table = EXTENT.compute(flowing, settings, no_progress)["plume_extent"]
    for row in table.itertuples():
        east = row.geometry.bounds[2]
        if east < 500_199.9:
            assert row.distance_to_site_boundary_m == pytest.approx(500_200.0 - east, abs=1.0)
        else:
            assert row.distance_to_site_boundary_m <= 0
    assert (table["distance_to_site_boundary_m"] > 0).any()


def test_an_elevation_above_the_ground_is_a_finding(mapped_site, with_closed_fields):
    """A map in the air is left out and said so."""
    tables = BANDS.compute(mapped_site, settings_of(BANDS, elevations_m=[40.0]), no_progress)
    assert tables["map_band"].empty
    assert "ground or water lies below" in tables["finding"]["what"].iloc[0]


def test_joint_chance_at_any_depth_is_the_share_of_fields_that_exceed(
    mapped_site, with_closed_fields, extents, closed_fields
):
    """Fields that differ by one number each: the best box decides, so joint equals highest.

    Within 2.5 %: a hundred fields stand for all of them, and the boxes are 5 m wide.
    """
    highest = EXTENT.compute(mapped_site, settings_of(EXTENT, any_depth="highest"), no_progress)
    one = highest["plume_extent"].set_index(["surface", "probability"])
    row = extents.set_index(["surface", "probability"]).loc[("any depth", 0.5)]
    assert row["area_m2"] == pytest.approx(one.loc[("any depth", 0.5), "area_m2"], rel=0.025)


def test_layers_with_chances_of_their_own_add_up(mapped_site, closed_fields):
    """Layers that exceed independently with 10 % each: somewhere in n of them with 1 - 0.9^n."""
    column = column_of(mapped_site, domain_of(mapped_site), cells=40)
    rng = np.random.default_rng(8)
    drawn = 10.0 * (rng.random((4000, *column.deep.shape)) < 0.1) + 5.0
    body = PlumeBody(closed_fields["toluene"], column, np.full(column.deep.shape, 0.1), drawn)
    layers = (column.deep > 0).sum(axis=1)
    scores = body.anywhere().scores[::4, ::4][column.grid.inside]
    # four thousand fields leave a standard error of 0.8 %; three of them
    assert ndtr(scores) == pytest.approx(1 - 0.9**layers, abs=0.024)


def test_mass_in_water_is_porosity_times_concentration_times_volume(mapped_site):
    """One concentration everywhere: 0.25 x 40 ug/L x the volume below the map; none below 50."""
    column = column_of(mapped_site, domain_of(mapped_site), cells=40)
    drawn = np.full((3, *column.deep.shape), 40.0)
    known = 0.25 * 40.0e-6 * column.wet.sum() * column.box_m3  # 1 ug/L is 1e-6 kg/m3
    porosity = np.full(column.deep.shape, 0.25)
    for mass in mass_range(drawn, column, criterion=10.0, porosity=porosity):
        assert mass == pytest.approx(known)
    assert mass_range(drawn, column, criterion=50.0, porosity=porosity) == (0.0, 0.0, 0.0)


def test_mass_is_given_only_with_a_porosity(mapped_site, with_closed_fields, extents):
    """Without a porosity there is no mass; with one it has a range, and doubles with it."""
    assert extents["mass_kg"].isna().all()
    masses = []
    for porosity in (0.1, 0.2):
        settings = settings_of(EXTENT, porosity=porosity)
        table = EXTENT.compute(mapped_site, settings, no_progress)["plume_extent"]
        row = table[table["surface"] == "any depth"].iloc[0]
        assert row.mass_low_kg < row.mass_kg < row.mass_high_kg
        assert table.loc[table["surface"] == "elevation", "mass_kg"].isna().all()
        masses.append(row.mass_kg)
    assert masses[1] == pytest.approx(2 * masses[0])


def test_the_same_seed_gives_the_same_range(mapped_site, with_closed_fields, extents):
    """Volumes repeat; without simulated fields the range is empty."""
    again = EXTENT.compute(mapped_site, settings_of(EXTENT), no_progress)["plume_extent"]
    assert again["volume_low_m3"].equals(extents["volume_low_m3"])
    bare = EXTENT.compute(mapped_site, settings_of(EXTENT, realisations=0), no_progress)
    assert bare["plume_extent"]["volume_low_m3"].isna().all()
    assert bare["plume_extent"]["volume_m3"].equals(extents["volume_m3"])


def test_every_statistic_on_request(mapped_site, with_closed_fields, ground_outline):
    """All statistics tile the site; the quantiles share their bands and stand in order."""
    names = ["high", "low", "median", "probability", "spread"]
    settings = settings_of(BANDS, statistics=names, elevations_m=[-8.0])
    table = BANDS.compute(mapped_site, settings, no_progress)["map_band"]
    one = table[table["quantity"] == "toluene"]
    assert sorted(one["statistic"].unique()) == names
    for _, rows in one.groupby("statistic"):
        assert rows.geometry.area.sum() == pytest.approx(ground_outline.area, rel=1e-9)
    level = 10.0
    areas = {
        name: one[(one["statistic"] == name) & (one["lower"] >= level)].geometry.area.sum()
        for name in ("low", "median", "high")
    }
    assert areas["low"] < areas["median"] < areas["high"]


def test_an_unknown_statistic_is_refused(mapped_site, with_closed_fields):
    """A statistic that is not known is answered with those that are."""
    with pytest.raises(UsageError, match="some of median"):
        BANDS.compute(mapped_site, settings_of(BANDS, statistics=["mean"]), no_progress)


def test_concentrations_are_mapped_below_the_water_only(mapped_site, with_closed_fields):
    """At an elevation between water and ground K has a map and the analyte has none."""
    settings = settings_of(BANDS, elevations_m=[8.5])
    tables = BANDS.compute(mapped_site, settings, no_progress)
    assert set(tables["map_band"]["quantity"]) == {"K"}
    extent = EXTENT.compute(mapped_site, settings_of(EXTENT, elevations_m=[8.5]), no_progress)
    assert set(extent["plume_extent"]["surface"]) == {"any depth"}
