"""Map layers of sites that have little or nothing: empty tables and clear words, never a crash."""

from dataclasses import replace

import geopandas as gpd
import pytest
import shapely

from geoprofile.errors import DataError
from geoprofile.plugins import no_progress
from geoprofile.products.boreholes import borehole_path
from geoprofile.products.discharge import discharge
from geoprofile.products.figures import chemistry_profile, k_profile, section_figure, site_map
from geoprofile.products.maps import map_band
from geoprofile.products.plume import plume_extent
from geoprofile.products.section import section
from geoprofile.site import Site

LAYERS = (borehole_path, map_band, plume_extent, section, discharge)


def run(module, site):
    """A layer with its defaults."""
    settings = {s.name: s.default for s in module.PLUGIN.settings}
    return module.PLUGIN.compute(site, settings, no_progress)


def keep(site, *names):
    """The site with some of its boreholes only."""
    tables = {}
    for name, table in site.tables.items():
        if "borehole" in table:
            table = table[table["borehole"].isin(names)].reset_index(drop=True)
        tables[name] = table
    return site.with_tables(tables)


@pytest.mark.parametrize("module", LAYERS, ids=lambda m: m.__name__.rsplit(".", 1)[-1])
def test_an_empty_site_gives_empty_tables(module):
    """A site without any row gives tables without any row."""
    tables = run(module, Site("bare", "EPSG:32628", "local datum"))
    for name in module.PLUGIN.writes:
        assert tables[name].empty


def test_without_a_field_sections_still_show_holes_and_intervals(mapped_site):
    """Boreholes and lines but no fitted field: bars and holes are there, bands are not."""
    tables = run(section, mapped_site)
    assert tables["section_band"].empty
    assert len(tables["section_interval"]) > 0
    assert len(tables["section_hole"]) > 0
    assert run(map_band, mapped_site)["map_band"].empty


@pytest.mark.parametrize("holes", [("B5",), ("B2", "B5"), ("B2", "B5", "B8")])
def test_one_or_a_few_boreholes_on_a_line(mapped_site, with_closed_fields, holes):
    """One borehole, two, and three on a line: every layer still makes valid shapes."""
    site = keep(mapped_site, *holes)
    for module in LAYERS[:4]:
        for name, table in run(module, site).items():
            # walls stand upright, which planar libraries call invalid
            if "geometry" in table and table.crs is not None and name != "section_wall":
                flat = table[table.geom_type == "MultiPolygon"]
                assert flat.is_valid.all()
    assert len(run(map_band, site)["map_band"]) > 0


def test_without_a_site_area_maps_cover_a_hull_round_the_boreholes(mapped_site, with_closed_fields):
    """No site area: bands cover the hull of the boreholes with a margin."""
    area = mapped_site.table("area")
    site = mapped_site.with_tables({"area": area[area["kind"] != "site"]})
    table = run(map_band, site)["map_band"]
    hull = shapely.MultiPoint(site.boreholes[["x", "y"]].to_numpy()).convex_hull
    covered = shapely.union_all(table.geometry.to_numpy())
    assert covered.buffer(1e-6).contains(hull)
    assert covered.area < 3 * hull.area


def test_an_analyte_without_a_criterion_has_a_median_and_a_finding(
    mapped_site, monkeypatch, closed_fields
):
    """No criterion: the median is mapped, the extent is not, and a finding says what to add."""
    plain = [replace(closed_fields["toluene"], criterion=None)]
    monkeypatch.setattr(section, "latest_fields", lambda site: plain)
    for room in (map_band, plume_extent):
        monkeypatch.setattr(room, "chosen_fields", lambda site, rounds: plain)
    assert set(run(map_band, mapped_site)["map_band"]["statistic"]) == {"median"}
    tables = run(plume_extent, mapped_site)
    assert tables["plume_extent"].empty
    assert "no criterion for toluene" in tables["finding"]["what"].iloc[0]
    assert run(section, mapped_site)["section_plume"].empty


def test_figures_of_a_bare_site_say_what_is_missing(tmp_path):
    """Figures of a site without data refuse with advice."""
    bare = Site("bare", "EPSG:32628", "local datum")
    jobs = (
        lambda: section_figure(bare, "A", "K", tmp_path / "a"),
        lambda: site_map(bare, tmp_path / "b", "K"),
        lambda: site_map(bare, tmp_path / "b"),
        lambda: k_profile(bare, "B1", tmp_path / "c"),
        lambda: chemistry_profile(bare, "B1", tmp_path / "d"),
    )
    for job in jobs:
        with pytest.raises(DataError) as caught:
            job()
        assert caught.value.problem.advice


def test_a_section_line_in_two_parts_is_a_finding(mapped_site, with_closed_fields):
    """A line drawn in two parts makes no section; in one part it is taken as it is."""
    two = shapely.MultiLineString(
        [[(500_010, 4_000_010), (500_050, 4_000_060)], [(500_060, 4_000_060), (500_190, 4_000_060)]]
    )
    one = shapely.MultiLineString([[(500_010, 4_000_060), (500_190, 4_000_060)]])
    lines = gpd.GeoDataFrame({"name": ["two", "one"]}, geometry=[two, one], crs=mapped_site.crs)
    tables = run(section, mapped_site.with_tables({"section_line": lines}))
    assert list(tables["section_trace"]["section"]) == ["one"]
    assert "one line" in tables["finding"].set_index("row_key").loc["two", "what"]
