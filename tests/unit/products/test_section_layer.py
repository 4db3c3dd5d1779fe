"""Sections of a small site whose field is known in closed form."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.section.section import PLUGIN
from geoprofile.products.section.sections import section_of
from geoprofile.products.section.slices import slice_field
from geoprofile.schema import TABLES

SETTINGS = {s.name: s.default for s in PLUGIN.settings}


@pytest.fixture
def tables(mapped_site, with_closed_fields):
    """All tables of the layer."""
    return PLUGIN.compute(mapped_site, SETTINGS, no_progress)


def test_every_table_has_the_columns_of_the_schema(tables):
    """Tables are complete, in schema order, in section coordinates."""
    for name in PLUGIN.writes:
        wanted = [*(c.name for c in TABLES[name].columns if c.name != "run"), "geometry"]
        assert list(tables[name].columns) == wanted
        assert len(tables[name]) > 0
        assert (tables[name].crs is None) == (TABLES[name].plane == "section")


def test_sections_lie_side_by_side(tables):
    """The first section starts at 0, the next at a round distance beyond the longest."""
    trace = tables["section_trace"]
    assert list(trace["sheet_start_m"]) == [0.0, 500.0]
    assert trace["length_m"].max() < 500
    second = tables["section_band"][tables["section_band"]["section"] == "across"]
    assert second.total_bounds[0] >= 500.0


def test_bands_tile_the_domain_of_the_section(tables, mapped_site):
    """Supported and uncertain bands of one statistic cover the section once."""
    for (name, quantity, _), one in tables["section_band"].groupby(
        ["section", "quantity", "statistic"]
    ):
        whole = section_of(mapped_site, name).part(quantity).area
        shapes = list(one.geometry)
        assert sum(s.area for s in shapes) == pytest.approx(whole, rel=1e-9)
        assert shapely.union_all(shapes).area == pytest.approx(whole, rel=1e-9)


def test_bands_hold_the_values_of_the_field(tables, mapped_site, closed_fields):
    """A point of the plane lies in the band of the field's median at its place on the map."""
    bands = tables["section_band"]
    bands = bands[(bands["quantity"] == "toluene") & (bands["statistic"] == "median")]
    rng = np.random.default_rng(5)
    misses = total = 0
    for name, one in bands.groupby("section"):
        section = section_of(mapped_site, name)
        start = 0.0 if name == "along" else 500.0
        spots = rng.uniform([0, -20], [section.plane.length_m, 12], (300, 2))
        inside = [s for s in spots if section.wet.contains(shapely.Point(s))]
        for s, z in inside:
            value = closed_fields["toluene"].at(section.plane.to_map([s], [z])).median[0]
            row = one[one.contains(shapely.Point(s + start, z))].iloc[0]
            low = row.lower if row.lower == row.lower else 0.0
            high = row.upper if row.upper == row.upper else np.inf
            misses += not low <= value <= high
            total += 1
    assert total > 100
    assert misses <= 0.03 * total  # linear between grid nodes


def test_interval_bars_keep_their_length(tables):
    """A bar of a vertical hole is as long as its interval; a leaning one appears shortened."""
    bars = tables["section_interval"]
    bars = bars[(bars["quantity"] == "K") & (bars["section"] == "along")]
    lengths = bars.set_index("interval").geometry.length
    assert lengths["B2-0"] == pytest.approx(3.5)
    assert lengths["B2-1"] == pytest.approx(2.0)
    assert 1.9 < lengths["B5-1"] < 2.0


def test_a_non_detect_has_a_limit_and_no_value(tables):
    """Non-detects keep their limit and say so in the label."""
    bars = tables["section_interval"]
    unseen = bars[(bars["quantity"] == "toluene") & ~bars["detected"].astype(bool)]
    assert len(unseen) > 0
    assert unseen["value"].isna().all()
    assert set(unseen["label"]) == {"< 0.5 µg/L"}


def test_only_near_holes_are_projected(tables):
    """Holes further from the line than the band width are not shown."""
    trace = tables["section_trace"].set_index("section")
    holes = tables["section_hole"]
    along = holes[holes["section"] == "along"]
    assert set(along["borehole"]) == {"B2", "B5", "B8", "B11"}
    assert (along["projection_distance_m"] <= trace.loc["along", "band_width_m"]).all()


def test_plume_edges_nest(tables):
    """In the plane, too, the 90 % extent lies in the 50 % extent."""
    for _, one in tables["section_plume"].groupby("section"):
        shapes = list(one.sort_values("probability").geometry)
        for wide, narrow in pairwise(shapes):
            assert narrow.difference(wide).area <= 1e-9 * wide.area


def test_a_line_outside_the_site_is_a_finding(mapped_site, with_closed_fields):
    """A line away from the site makes no bands and says why; a bad line stops nothing."""
    crs = mapped_site.crs
    lines = gpd.GeoDataFrame(
        {"name": ["far", "dot", "loop"]},
        geometry=[
            shapely.LineString([(400_000, 4_000_000), (400_100, 4_000_000)]),
            shapely.LineString([(500_000, 4_000_000), (500_000, 4_000_000)]),
            shapely.LineString(
                [
                    (500_010, 4_000_010),
                    (500_190, 4_000_100),
                    (500_190, 4_000_010),
                    (500_010, 4_000_100),
                ]
            ),
        ],
        crs=crs,
    )
    tables = PLUGIN.compute(mapped_site.with_tables({"section_line": lines}), SETTINGS, no_progress)
    found = tables["finding"].groupby("row_key")["what"].apply(" ".join)
    assert "outside the site area" in found["far"]
    assert "one point" in found["dot"]
    assert "crosses itself" in found["loop"]
    assert set(tables["section_band"]["section"]) == {"loop"}


def test_sections_that_cross_agree(mapped_site, closed_fields):
    """At the crossing both sections show the same column of the field."""
    first, second = (section_of(mapped_site, n).plane for n in ("along", "across"))
    ((s, t),) = first.crossings(second)
    z = np.linspace(-15, 10, 26)
    a, b = first.to_map(np.full(26, s), z), second.to_map(np.full(26, t), z)
    assert np.abs(a - b).max() < 1e-6
    one, other = (closed_fields["toluene"].at(p).log10_mean for p in (a, b))
    assert np.abs(one - other).max() < 1e-6


ON_SHEET = [t.removesuffix("_exaggerated") for t in PLUGIN.writes if t.endswith("_exaggerated")]


@pytest.mark.parametrize("wanted", [0.0, 7.0])
def test_the_exaggerated_twin_differs_in_height_alone(mapped_site, with_closed_fields, wanted):
    """Row by row the same, elevations multiplied by the factor that stands in its column."""
    tables = PLUGIN.compute(mapped_site, {**SETTINGS, "exaggeration": wanted}, no_progress)
    for name in ON_SHEET:
        true, twin = tables[name], tables[f"{name}_exaggerated"]
        (factor,) = set(twin["exaggeration"])
        assert factor == (wanted or 2.5)  # 190 m long, 36 m high: 95 / 36, rounded down
        kept = [c for c in true.columns if c != "geometry"]
        assert true[kept].equals(twin[kept])
        for one, other in zip(true.geometry, twin.geometry, strict=True):
            assert shapely.get_coordinates(other) == pytest.approx(
                shapely.get_coordinates(one) * [1.0, factor]
            )


def area_in_space(ring):
    """Area of a flat ring (n, 3) [m2], half the length of the summed cross products."""
    ring = ring - ring[0]
    return np.linalg.norm(np.cross(ring[:-1], ring[1:]).sum(axis=0)) / 2


def test_walls_stand_on_the_line_and_have_the_size_of_their_bands(tables, mapped_site):
    """Every corner lies above the line, bends included; area in space is that in the plane."""
    bands = tables["section_band"]
    bands = bands[bands["statistic"] == "median"].reset_index(drop=True)
    walls = tables["section_wall"]
    assert len(walls) == len(bands)
    for wall, band in zip(walls.itertuples(), bands.itertuples(), strict=True):
        assert (wall.section, wall.label, wall.certainty) == (
            band.section,
            band.label,
            band.certainty,
        )
        plane = section_of(mapped_site, wall.section).plane
        _, z, offset = plane.to_section(shapely.get_coordinates(wall.geometry, include_z=True))
        assert np.abs(offset).max() < 1e-6
        assert (z.min(), z.max()) == pytest.approx(
            (band.geometry.bounds[1], band.geometry.bounds[3])
        )
        size = sum(
            area_in_space(np.array(part.exterior.coords))
            - sum(area_in_space(np.array(hole.coords)) for hole in part.interiors)
            for part in wall.geometry.geoms
        )
        assert size == pytest.approx(band.geometry.area, rel=1e-6)


def test_no_wall_bridges_a_bend(tables, mapped_site):
    """Each polygon of a wall lies on one piece of the line, so that it is flat."""
    walls = tables["section_wall"]
    plane = section_of(mapped_site, "across").plane
    for wall in walls[walls["section"] == "across"].geometry:
        for part in wall.geoms:
            s, _, _ = plane.to_section(np.array(part.exterior.coords))
            piece = np.searchsorted(plane.bends, [s.min() + 1e-6, s.max() - 1e-6])
            assert piece[0] == piece[1]


def test_values_of_a_section_are_those_of_the_field(mapped_site, closed_fields):
    """At the same place section and field give the same value to 1e-9, bends and all."""
    for name in ("along", "across"):
        section = section_of(mapped_site, name)
        cut = slice_field(section, closed_fields["toluene"])
        s, z = (a.ravel() for a in np.meshgrid(cut.s[::7], cut.z[::7]))
        at = closed_fields["toluene"].at(section.plane.to_map(s, z))
        assert np.abs(cut.median[::7, ::7].ravel() / at.median - 1).max() < 1e-9
        assert np.abs(cut.log10_sd[::7, ::7].ravel() - at.log10_sd).max() < 1e-9


def test_what_lies_too_far_is_told(mapped_site):
    """Intervals of a leaning hole lie outside the band: the section says how many of which hole."""
    near = section_of(mapped_site, "across", band_width_m=1.5)
    shown = [one.interval for one in near.intervals if one.borehole == "B5"]
    left_out = 4 - len(shown)
    assert 0 < left_out < 4
    words = f"intervals farther than 1.5 m from the line are left out: {left_out} of B5"
    assert words in near.notes
    assert not any("farther" in note for note in section_of(mapped_site, "along").notes)
