"""Maps at depths below ground and in hydrostratigraphic units."""

import numpy as np
import pytest
import shapely

from geoprofile.drawing.styles.catalogue import style_of
from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.surfaces import ground_of, water_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.map_band import PLUGIN as BANDS

EAST, NORTH = 500_000.0, 4_000_000.0


def bands_of(site, **changed):
    """Map bands and findings with settings changed; only the wanted places are mapped."""
    settings = {s.name: s.default for s in BANDS.settings}
    tables = BANDS.compute(site, {**settings, "elevations_m": [-8.0], **changed}, no_progress)
    table = tables["map_band"]
    return table[table["surface"] != "elevation"], tables["finding"]


def missed(bands, truth, elevation_of):
    """How many random points inside a band have a true value outside it."""
    rng = np.random.default_rng(7)
    points = rng.uniform([EAST, NORTH], [EAST + 200, NORTH + 120], (300, 2))
    values = truth.at(np.column_stack([points, elevation_of(points)])).median
    wrong = 0
    for row in bands.itertuples():
        inside = shapely.contains_xy(row.geometry, points)
        low = row.lower if row.lower == row.lower else 0.0
        high = row.upper if row.upper == row.upper else np.inf
        wrong += int((inside & ~((values >= low) & (values <= high))).sum())
    return wrong


def test_a_map_at_a_depth_follows_the_ground(mapped_site, with_closed_fields, closed_fields):
    """The bands hold the field at that depth below ground, and tile the site."""
    table, _ = bands_of(mapped_site, depths_m=[17.0], statistics=["median"])
    assert set(table["surface"]) == {"depth"}
    assert table["depth_m"].unique().tolist() == [17.0]
    assert table["elevation_m"].isna().all()
    ground = ground_of(mapped_site)
    for quantity, rows in table.groupby("quantity"):
        assert missed(rows, closed_fields[quantity], lambda xy: ground.at(xy) - 17.0) <= 6
        assert rows.geometry.area.sum() == pytest.approx(domain_of(mapped_site).area, rel=1e-9)


def test_concentrations_above_the_water_have_no_map(mapped_site, with_closed_fields):
    """At 2 m the ground is dry, the water standing 4 m down: K has a map, the analyte none."""
    table, findings = bands_of(mapped_site, depths_m=[2.0])
    assert set(table["quantity"]) == {"K"}
    assert findings["row_key"].tolist() == ["2 m below ground"]


def test_a_map_of_a_unit_shows_its_middle(layered_site, with_closed_fields, closed_fields):
    """K in the sand: at half its height, 8.5 m below ground."""
    table, findings = bands_of(layered_site, units=["Sand"], statistics=["median"])
    assert set(table["hydro_unit"]) == {"sand"}
    assert set(table["surface"]) == {"unit"}
    ground = ground_of(layered_site)
    k = table[table["quantity"] == "K"]
    inner = k.assign(geometry=k.intersection(_vertical_holes()))
    assert missed(inner, closed_fields["K"], lambda xy: ground.at(xy) - 8.5) <= 6
    assert findings.empty


def _vertical_holes():
    """Part of the site away from the hole that leans, which shifts the contacts a little."""
    return shapely.box(EAST, NORTH, EAST + 200, NORTH + 120).difference(
        shapely.Point(EAST + 75, NORTH + 60).buffer(25.0)
    )


def test_a_concentration_in_a_unit_lies_in_its_wet_part(
    layered_site, with_closed_fields, closed_fields
):
    """The sand reaches from 3 to 14 m, the water stands at 4 m: the middle lies at 9 m."""
    table, _ = bands_of(layered_site, units=["sand"], statistics=["median"])
    rows = table[table["quantity"] == "toluene"]
    inner = rows.assign(geometry=rows.intersection(_vertical_holes()))
    water = water_of(layered_site)
    assert missed(inner, closed_fields["toluene"], lambda xy: water.at(xy) - 5.0) <= 6


def test_a_unit_is_blank_where_holes_lack_it(layered_site, with_closed_fields):
    """No band of the clay touches the holes without it; one at those with it does."""
    table, _ = bands_of(layered_site, units=["clay"], statistics=["median"])
    shape = shapely.union_all(table[table["quantity"] == "K"].geometry.to_numpy())
    for hole in layered_site.boreholes.itertuples():
        present = hole.borehole not in ("B10", "B11", "B12")
        assert shape.contains(shapely.Point(hole.x, hole.y)) == present
    thicker, _ = bands_of(layered_site, units=["clay"], statistics=["median"], thinnest_m=3.0)
    edge = thicker[thicker["quantity"] == "K"].total_bounds[2] - EAST
    # 4 m thick at the holes 120 m east and none at 170 m: 3 m remain about 132 m east
    assert 125.0 < edge < 140.0 < shape.bounds[2] - EAST < 170.0


def test_every_unit_on_request_and_unknown_ones_as_findings(layered_site, with_closed_fields):
    """'all' maps each unit; a unit that is not there is said to be missing."""
    table, _ = bands_of(layered_site, units=["all"], statistics=["median"])
    k = table[table["quantity"] == "K"]
    assert k["hydro_unit"].unique().tolist() == ["fill", "sand", "clay", "rock"]
    table, findings = bands_of(layered_site, units=["granite"])
    assert table.empty
    assert findings["row_key"].tolist() == ["granite"]


def test_units_without_correlation_are_a_finding(mapped_site, with_closed_fields):
    """Where no units are known nothing is made up."""
    table, findings = bands_of(mapped_site, units=["all"])
    assert table.empty
    assert "no units are correlated" in findings["what"].iloc[0]


def test_the_legend_says_where_each_map_lies(layered_site, with_closed_fields):
    """A group of the style per place, named by elevation, depth or unit."""
    settings = {s.name: s.default for s in BANDS.settings}
    settings |= {"elevations_m": [-8.0], "depths_m": [17.0], "units": ["sand"]}
    table = BANDS.compute(layered_site, settings, no_progress)["map_band"]
    rows = table.drop(columns="geometry").astype(object)
    rules = style_of("map_band", rows.where(rows.notna(), None).to_dict("records")).rules
    titles = [rule.title for rule in rules if rule.title.startswith("K, median")]
    assert titles == ["K, median, -8 m", "K, median, 17 m below ground", "K, median, unit sand"]
    assert [rule.title for rule in rules if rule.shown] == ["K, median, -8 m"]
