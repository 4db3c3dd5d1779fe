"""The layer of mass discharge against an invariant of a closed-form plume."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.special import erf

from geoprofile.plugins import no_progress
from geoprofile.products.discharge import discharge as layer
from geoprofile.products.section.lines import sheet_starts
from geoprofile.products.section.sections import section_of
from geoprofile.report.summary import summary

K, GRADIENT, SOURCE, WIDTH, HEIGHT = 1e-4, 0.005, 1000.0, 12.0, 4.0
EAST, NORTH, MIDDLE = 500_020.0, 4_000_060.0, -5.0


class Even:
    """A field that is known everywhere, so that every realisation is the same."""

    def __init__(self, quantity, values):
        self.quantity, self.round, self.values = quantity, None, values
        self.criterion = None
        self.highest = float("inf")

    def assumed(self, points):
        """Half of the ground."""
        return (np.asarray(points)[:, 1] > NORTH).astype(float)

    def simulate(self, points, *, realisations, rng):
        """The same field again and again."""
        return np.tile(self.values(np.asarray(points)), (realisations, 1))


def patch(points):
    """Concentration [ug/L] downstream of a patch, flow to the east."""
    x, y, z = (points - [EAST, NORTH, MIDDLE]).T
    x = np.maximum(x, 1e-9)
    floor = 1e-12  # a field has a logarithm everywhere
    across, up = 2 * np.sqrt(0.3 * x), 2 * np.sqrt(0.02 * x)
    return floor + (
        SOURCE
        / 4
        * (erf((y + WIDTH / 2) / across) - erf((y - WIDTH / 2) / across))
        * (erf((z + HEIGHT / 2) / up) - erf((z - HEIGHT / 2) / up))
    )


def site_with(mapped_site, lines, azimuth=90.0):
    """The site with section lines and a known flow."""
    flow = gpd.GeoDataFrame(
        {
            "measured_at": [None],
            "gradient": [GRADIENT],
            "gradient_sd": [0.0],
            "azimuth_deg": [azimuth],
            "azimuth_sd_deg": [0.0],
            "boreholes": [9],
            "notes": [None],
        },
        geometry=[shapely.LineString([(0, 0, 0), (1, 0, 0)])],
        crs=mapped_site.crs,
    )
    drawn = gpd.GeoDataFrame(
        {"name": list(lines)},
        geometry=[shapely.LineString(xy) for xy in lines.values()],
        crs=mapped_site.crs,
    )
    intervals = mapped_site.intervals
    short = intervals.assign(bottom_m=intervals["top_m"] + 0.5)  # the field is known at points
    return mapped_site.with_tables({"flow": flow, "section_line": drawn, "interval": short})


ACROSS = {
    "near": [(500_050, 4_000_005), (500_050, 4_000_115)],
    "far": [(500_120, 4_000_005), (500_120, 4_000_115)],
    "oblique": [(500_060, 4_000_005), (500_110, 4_000_115)],
    "backwards and bent": [(500_100, 4_000_115), (500_095, 4_000_060), (500_100, 4_000_005)],
}
EXACT = K * 86400 * GRADIENT * SOURCE / 1000 * WIDTH * HEIGHT


@pytest.fixture
def run(monkeypatch):
    """The layer with fields that are known everywhere."""
    fields = [Even("K", lambda p: np.full(len(p), K)), Even("toluene", patch)]
    monkeypatch.setattr(layer, "latest_fields", lambda site: fields)
    settings = {s.name: s.default for s in layer.PLUGIN.settings} | {"realisations": 20}
    return lambda site, **wanted: layer.PLUGIN.compute(site, {**settings, **wanted}, no_progress)


@pytest.mark.parametrize("planes", [1, 3, 5])
def test_discharge_is_the_same_through_every_plane_across_the_flow(mapped_site, run, planes):
    """Planes at any distance, oblique or bent, alone or averaged, carry K i C0 Y Z."""
    table = run(site_with(mapped_site, ACROSS), planes=planes, plane_spacing_m=3.0)["discharge"]
    assert list(table["section"]) == list(ACROSS)
    for column in ("discharge_low_g_per_day", "discharge_g_per_day", "discharge_high_g_per_day"):
        assert table[column].to_numpy() == pytest.approx(EXACT, rel=0.02)  # cells of 2 by 1 m
    assert (table["planes"] == planes).all()


def test_the_range_is_widened_by_what_a_mean_gradient_gets_wrong(mapped_site, run):
    """One plane overstates 0.5 to 4.4 times, the mean of many planes 0.8 to 2.1 times."""
    site = site_with(mapped_site, {"near": ACROSS["near"]})
    one, many = (run(site, planes=n, plane_spacing_m=2.0)["discharge"].iloc[0] for n in (1, 5))
    low, high = one["discharge_low_g_per_day"], one["discharge_high_g_per_day"]
    assert one["discharge_least_g_per_day"] == pytest.approx(low / 4.4)
    assert one["discharge_most_g_per_day"] == pytest.approx(2 * high)
    low, high = many["discharge_low_g_per_day"], many["discharge_high_g_per_day"]
    assert many["discharge_least_g_per_day"] == pytest.approx(low / 2.1)
    assert many["discharge_most_g_per_day"] == pytest.approx(high / 0.8)
    assert "statistical range" in one["notes"]
    assert "single planes" in many["notes"]


def test_no_k_counts_for_more_than_twice_the_highest_measured(mapped_site, run, monkeypatch):
    """Where a quarter of the drawn K was the highest, half of it counts: half the discharge."""
    k = Even("K", lambda p: np.full(len(p), K))
    k.highest = K / 4
    monkeypatch.setattr(layer, "latest_fields", lambda site: [k, Even("toluene", patch)])
    row = run(site_with(mapped_site, {"near": ACROSS["near"]}))["discharge"].iloc[0]
    assert row["discharge_g_per_day"] == pytest.approx(EXACT / 2, rel=0.02)  # cells of 2 by 1 m
    assert "twice the highest measured" in row["notes"]


def test_cells_hold_the_discharge_of_their_section(mapped_site, run):
    """Flux times area adds up to the section's discharge; shares add up to one along the line."""
    tables = run(site_with(mapped_site, ACROSS), planes=3)
    starts = sheet_starts(site_with(mapped_site, ACROSS))
    for name, cells in tables["discharge_cell"].groupby("section"):
        wet = section_of(site_with(mapped_site, ACROSS), name).wet
        assert cells["area_m2"].sum() == pytest.approx(wet.area)
        assert cells.geometry.area.to_numpy() == pytest.approx(cells["area_m2"].to_numpy())
        total = (cells["flux_g_per_m2_per_day"] * cells["area_m2"]).sum()
        assert total == pytest.approx(EXACT, rel=0.02)
        assert cells["share"].sum() == pytest.approx(1.0)
        ordered = cells.sort_values("distance_m")["cumulative_share"].to_numpy()
        assert (np.diff(ordered) >= -1e-12).all()
        assert ordered[-1] == pytest.approx(1.0)
        middle = cells.geometry.bounds[["minx", "maxx"]].mean(axis=1) - starts[name]
        assert np.abs(middle - cells["distance_m"]).max() <= 2.0  # half a block: cut at the edge


def test_half_of_the_discharge_passes_before_the_axis_of_the_plume(mapped_site, run):
    """The plume lies in the middle of the line: so does half of the cumulative share."""
    cells = run(site_with(mapped_site, {"near": ACROSS["near"]}))["discharge_cell"]
    before = cells[cells["distance_m"] < NORTH - 4_000_005]
    assert before["cumulative_share"].max() == pytest.approx(0.5, abs=0.05)
    strongest = cells.loc[cells["flux_g_per_m2_per_day"].idxmax()]
    assert strongest["elevation_m"] == pytest.approx(MIDDLE, abs=1.5)


def tilted_heads(site, slope_near):
    """Heads that fall to the east: twice the site's slope left of the middle."""
    heads = site.table("head").copy()
    x = heads.geometry.x.to_numpy() - 500_000.0
    heads["head_m"] = 10.0 - np.interp(x, [0, 100, 200], [0, 100 * slope_near, 100 * slope_near])
    return site.with_tables({"head": heads})


def test_heads_near_a_section_give_its_gradient(mapped_site, run):
    """A local gradient is that of the heads within reach; with few heads the site's is kept."""
    lines = {"near": [(500_045, 4_000_005), (500_045, 4_000_115)]}
    site = tilted_heads(site_with(mapped_site, lines), 0.01)
    local = run(site, gradient="local", reach_m=30.0)["discharge"].iloc[0]
    assert local["discharge_g_per_day"] == pytest.approx(2 * EXACT, rel=0.02)
    assert "6 boreholes near the section" in local["notes"]
    few = run(site, gradient="local", reach_m=10.0)["discharge"].iloc[0]
    assert few["discharge_g_per_day"] == pytest.approx(EXACT, rel=0.02)
    assert "only" in few["notes"]


def test_heads_on_one_line_give_no_local_gradient(mapped_site, run):
    """Three columns of holes thinned to one line: the site's gradient is kept and said."""
    site = site_with(mapped_site, {"near": ACROSS["near"]})
    heads = site.table("head")
    heads = heads[heads.geometry.y.round() == heads.geometry.y.round().iloc[0]]
    doubled = pd.concat([heads, heads.assign(borehole=heads["borehole"] + "x")])
    table = run(site.with_tables({"head": doubled}), gradient="local", reach_m=500.0)["discharge"]
    assert "nearly on one line" in table["notes"].iloc[0]
    assert table["discharge_g_per_day"].iloc[0] == pytest.approx(EXACT, rel=0.02)


def test_a_section_along_the_flow_has_no_discharge(mapped_site, run):
    """A plane along the flow says why it has no row."""
    tables = run(site_with(mapped_site, {"along": [(500_005, 4_000_060), (500_195, 4_000_070)]}))
    assert tables["discharge"].empty
    assert tables["discharge_cell"].empty
    assert "within 30 degrees of the flow" in tables["finding"]["what"].iloc[0]


def test_without_a_flow_direction_there_is_no_discharge(mapped_site, run):
    """No heads, no discharge, and a finding that says what to measure."""
    tables = run(mapped_site)
    assert tables["discharge"].empty
    assert "static heads" in tables["finding"]["what_to_do"].iloc[0]


def test_the_closing_words_give_the_largest_discharge_with_both_ranges(mapped_site, run):
    """The section that carries most, its statistical and its structural range."""
    site = site_with(mapped_site, ACROSS)
    tables = run(site)
    rows = tables["discharge"]
    most = rows.loc[rows["discharge_g_per_day"].idxmax()]
    lines = summary(site.with_tables(tables))
    (words,) = [line for line in lines if line.startswith("Mass discharge: toluene")]
    assert f"{EXACT:.2g} g/d through section {most['section']}" in words
    least, most = most["discharge_least_g_per_day"], most["discharge_most_g_per_day"]
    assert f"{least:.2g} to {most:.2g}" in words
