"""Soil gas in vertical sections: its own quantity, between its samples, above the water level."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from geoprofile import app
from geoprofile.plugins import no_progress
from geoprofile.products.section.figure_numbers import section_drawing
from geoprofile.products.section.section import PLUGIN
from geoprofile.report.content import Content
from geoprofile.report.section_view import sections
from geoprofile.site import Site, records_of

sys.path.insert(0, str(Path(__file__).parents[1] / "cli"))
sys.path.insert(0, str(Path(__file__).parent))
import corner_site
import test_soil_gas as gas_site

GAS = "benzene in soil gas"
DEFAULTS = {s.name: s.default for s in PLUGIN.settings}
GROUND_M = 100.0  # flat
LINES = {"near": ((-5, 1), (65, 1)), "far": ((0, 400), (60, 400))}


def derived(folder: Path, *how: float | None) -> Site:
    """The site of soil gas with two section lines, as far as its sections."""
    rows = [
        f'{name},"LINESTRING ({corner_site.EAST + x} {corner_site.NORTH + y}, '
        f'{corner_site.EAST + u} {corner_site.NORTH + v})"'
        for name, ((x, y), (u, v)) in LINES.items()
    ]
    files = gas_site.files(*how) | {"section_lines.csv": "\n".join(["name,wkt", *rows, ""])}
    corner_site.write(folder, files)
    app.create(folder / "site.gpkg", crs="EPSG:32632")
    app.load(folder / "site.gpkg", [folder])
    _, site = app.derive(folder / "site.gpkg", ["section"], command="check")
    return site


@pytest.fixture(scope="module")
def dry(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Gas alone, no water level."""
    return derived(tmp_path_factory.mktemp("dry"))


@pytest.fixture(scope="module")
def wet(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Water at 2 m below ground, sampled at 10 m and much stronger than the gas."""
    return derived(tmp_path_factory.mktemp("wet"), 1e6, 2.0)


def bands(site: Site, statistic: str = "median") -> list[dict]:
    """Bands of gas in the section plane."""
    table = site.table("section_band")
    return records_of(table[(table["quantity"] == GAS) & (table["statistic"] == statistic)])


def test_gas_is_drawn_between_its_samples_in_its_own_unit(dry: Site) -> None:
    """From 1.0 to 3.5 m below ground at most, in ug/m3, near its holes; as walls on the map too."""
    rows = bands(dry)
    assert {(r["section"], r["unit"]) for r in rows} == {("near", "ug/m3")}
    drawn = shapely.union_all([r["geometry"] for r in rows])
    _, low, _, high = drawn.bounds
    assert GROUND_M - 3.5 - 1e-6 <= low < high <= GROUND_M - 1.0 + 1e-6
    assert drawn.area > 0.5 * 2.5 * 60.0  # most of the strip between the outer holes
    walls = dry.table("section_wall")
    assert GAS in set(walls["quantity"])


def test_the_bands_hold_what_was_measured(dry: Site) -> None:
    """At the middle of each interval near the line lies the class of its value, or the next."""
    rows = bands(dry)
    seen = 0
    for bar in records_of(dry.table("section_interval")):
        middle = bar["geometry"].interpolate(0.5, normalized=True)
        mine = [r for r in rows if r["section"] == bar["section"] and r["geometry"].covers(middle)]
        if bar["quantity"] != GAS or bar["value"] is None or not mine:
            continue
        seen += 1
        assert (mine[0]["lower"] or 0.0) / 1.8 <= bar["value"] <= 1.8 * (mine[0]["upper"] or np.inf)
    assert seen >= 4


def test_gas_ends_at_the_water_and_water_begins_there(wet: Site) -> None:
    """No band of gas below 2 m, none of water above it, and no value of water in gas."""
    gas = shapely.union_all([r["geometry"] for r in bands(wet)])
    assert gas.bounds[1] >= GROUND_M - 2.0 - 1e-6
    table = wet.table("section_band")
    water = table.loc[table["quantity"] == "benzene", "geometry"]
    assert all(s.bounds[3] <= GROUND_M - 2.0 + 1e-6 for s in water)
    assert max(r["lower"] or 0.0 for r in bands(wet)) < 1e5
    assert GAS not in set(wet.table("section_plume")["analyte"])
    bars = wet.table("section_interval")
    assert set(bars.loc[bars["quantity"] == GAS, "unit"]) == {"ug/m3"}
    assert set(bars.loc[bars["quantity"] == "benzene", "unit"]) == {"ug/L"}


def test_a_line_away_from_gas_says_why_it_shows_none(dry: Site) -> None:
    """Not even the holes nearest to it: a note with the number."""
    told = [str(r["what"]) for r in records_of(dry.table("finding"))]
    assert any(w.startswith(f"no section of {GAS}: found 0 borehole(s) with gas") for w in told)


def test_a_strict_limit_of_the_maps_holds_in_sections(dry: Site) -> None:
    """Where the maps of gas go no farther than 5 m from data, sections do not either."""
    used = {**dry.used, "soil_gas": {**dry.used["soil_gas"], "farthest_m": 5.0}}
    site = replace(dry, used=used)
    tables = PLUGIN.compute(site, DEFAULTS, no_progress)
    table = tables["section_band"]
    mine = table[(table["quantity"] == GAS) & (table["statistic"] == "median")]
    area = shapely.union_all(mine["geometry"].to_numpy()).area
    assert 0.0 < area < 0.9 * shapely.union_all([r["geometry"] for r in bands(dry)]).area


def test_the_figure_and_the_report_show_the_section(dry: Site, tmp_path: Path) -> None:
    """The numbers of the sheet, the sheet itself, and the figure of the page."""
    drawing = section_drawing(dry, "near", GAS)
    assert drawing.unit_shown == "µg/m³"
    assert drawing.slice is not None
    assert drawing.slice.criterion == pytest.approx(1000.0)
    assert drawing.dates == "sampled 2026-06-01"
    assert section_drawing(dry, "far", GAS).slice is None
    drawn = app.draw_sections(dry, tmp_path)
    assert [p.name for p in drawn.files if p.suffix == ".png"] == [
        "section_near_benzene_in_soil_gas.png"
    ]
    assert drawn.remarks == ()
    page = sections(Content(dry))
    assert page.count('class="band') >= len(bands(dry))
    assert "µg/m³" in page
