"""The layer of mass discharge against an invariant of a closed-form plume."""

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy.special import erf

from geoprofile.layers import discharge as layer
from geoprofile.plugs import no_progress

K, GRADIENT, SOURCE, WIDTH, HEIGHT = 1e-4, 0.005, 1000.0, 12.0, 4.0
EAST, NORTH, MIDDLE = 500_020.0, 4_000_060.0, -5.0


class Even:
    """A field that is known everywhere, so that every realisation is the same."""

    def __init__(self, quantity, values):
        self.quantity, self.round, self.values = quantity, None, values
        self.criterion = None

    def simulate(self, points, *, realisations, rng):
        """The same field again and again."""
        return np.tile(self.values(np.asarray(points)), (realisations, 1))


def patch(points):
    """Concentration [ug/L] downstream of a patch, flow to the east."""
    x, y, z = (points - [EAST, NORTH, MIDDLE]).T
    x = np.maximum(x, 1e-9)
    across, up = 2 * np.sqrt(0.3 * x), 2 * np.sqrt(0.02 * x)
    return (
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
    return mapped_site.with_tables({"flow": flow, "section_line": drawn})


def run(site, monkeypatch):
    """The layer with fields that are known everywhere."""
    fields = [Even("K", lambda p: np.full(len(p), K)), Even("toluene", patch)]
    monkeypatch.setattr(layer, "latest_fields", lambda site: fields)
    return layer.PLUG.compute(site, {"realisations": 20, "seed": 1}, no_progress)


def test_discharge_is_the_same_through_every_plane_across_the_flow(mapped_site, monkeypatch):
    """Planes at three distances, one of them oblique, carry K i C0 Y Z."""
    lines = {
        "near": [(500_050, 4_000_005), (500_050, 4_000_115)],
        "far": [(500_120, 4_000_005), (500_120, 4_000_115)],
        "oblique": [(500_060, 4_000_005), (500_110, 4_000_115)],
    }
    table = run(site_with(mapped_site, lines), monkeypatch)["discharge"]
    exact = K * 86400 * GRADIENT * SOURCE / 1000 * WIDTH * HEIGHT
    assert len(table) == 3
    for column in ("discharge_low_g_per_day", "discharge_g_per_day", "discharge_high_g_per_day"):
        assert table[column].to_numpy() == pytest.approx(exact, rel=0.02)  # cells of 2 by 1 m
    assert table["notes"].str.contains("statistical range only").all()


def test_a_section_along_the_flow_has_no_discharge(mapped_site, monkeypatch):
    """A plane along the flow says why it has no row."""
    site = site_with(mapped_site, {"along": [(500_005, 4_000_060), (500_195, 4_000_070)]})
    tables = run(site, monkeypatch)
    assert tables["discharge"].empty
    assert "within 30 degrees of the flow" in tables["finding"]["what"].iloc[0]


def test_without_a_flow_direction_there_is_no_discharge(mapped_site, monkeypatch):
    """No heads, no discharge, and a finding that says what to measure."""
    tables = run(mapped_site, monkeypatch)
    assert tables["discharge"].empty
    assert "static heads" in tables["finding"]["what_to_do"].iloc[0]
