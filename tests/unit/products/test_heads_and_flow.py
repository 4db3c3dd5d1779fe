"""Heads and flow from small tables of known heads."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.heads import flow, head
from geoprofile.site import Site

CRS = "EPSG:32628"
DOWN = np.array([0.001, 0.0])  # slope of the water table, falling to the east


def wells(places: list[tuple[float, float]]) -> gpd.GeoDataFrame:
    """Boreholes of 20 m on ground at 10 m."""
    return gpd.GeoDataFrame(
        {
            "borehole": [f"W{i}" for i in range(len(places))],
            "x": [p[0] for p in places],
            "y": [p[1] for p in places],
            "ground_elevation_m": 10.0,
            "measuring_point_height_m": 0.0,
            "depth_m": 20.0,
        },
        geometry=[shapely.Point(*p, 10.0) for p in places],
        crs=CRS,
    )


def site_with_levels(places: list[tuple[float, float]]) -> Site:
    """Open-hole water levels on a plane that falls 0.001 to the east."""
    table = wells(places)
    levels = pd.DataFrame(
        {
            "borehole": table["borehole"],
            "interval": None,
            "measured_at": "2031-05-01T10:00:00Z",
            "depth_to_water_m": [10.0 - (8.0 - float(np.dot(DOWN, p))) for p in places],
        }
    )
    return Site("test", CRS, "", tables={"borehole": table, "water_level": levels})


def derived(site: Site) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Heads, flow and the flow's findings."""
    heads = head.compute(site, {}, no_progress)["head"]
    made = flow.compute(site.with_tables({"head": heads}), {"days": 400.0}, no_progress)
    return heads, made["flow"], made["finding"]


def test_water_goes_down_the_plane() -> None:
    """Levels that fall to the east give flow towards 90 degrees with that gradient."""
    heads, flows, _ = derived(site_with_levels([(0, 0), (100, 0), (0, 100), (100, 120)]))
    assert heads["head_m"].max() == pytest.approx(8.0)
    assert flows.iloc[0]["azimuth_deg"] == pytest.approx(90.0, abs=1e-4)
    assert flows.iloc[0]["gradient"] == pytest.approx(0.001, rel=1e-6)


def test_two_wells_give_no_direction_but_a_finding() -> None:
    """Two wells cannot say where water goes."""
    _, flows, findings = derived(site_with_levels([(0, 0), (100, 0)]))
    assert flows.empty
    assert "no direction" in findings.iloc[0]["what"]


def test_wells_on_a_line_are_called_unreliable() -> None:
    """Three wells nearly on a line give a direction with a warning."""
    _, flows, findings = derived(site_with_levels([(0, 0), (100, 1), (200, -1), (300, 1)]))
    assert len(flows) == 1
    assert "one line" in findings.iloc[0]["what"]


def test_vertical_gradient_is_positive_upwards() -> None:
    """Heads of 50.12 m at 30 m and 50.37 m at 18 m elevation give 0.020833 upwards."""
    holes = wells([(0, 0)]).assign(ground_elevation_m=60.0, depth_m=50.0)
    intervals = pd.DataFrame(
        {
            "interval": ["upper", "lower"],
            "borehole": "W0",
            "top_m": [29.0, 41.0],
            "bottom_m": [31.0, 43.0],
            "isolation": "straddle",
            "static_depth_m": [60 - 50.12, 60 - 50.37],
            "set_at": ["2031-05-01T10:00:00Z", "2031-05-01T15:00:00Z"],
        }
    )
    site = Site("test", CRS, "", tables={"borehole": holes, "interval": intervals})
    heads = head.compute(site, {}, no_progress)["head"].set_index("interval")
    assert heads.loc["upper", "vertical_gradient"] == pytest.approx(0.25 / 12, rel=1e-9)
    # two levels good to 1 cm each, 12 m apart
    sd = heads.loc["upper", "vertical_gradient_sd"]
    assert sd == pytest.approx(0.01 * np.sqrt(2) / 12)
    assert heads.loc["upper", "next_interval"] == "lower"
    assert np.isnan(heads.loc["lower", "vertical_gradient"])
