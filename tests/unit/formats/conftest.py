"""A small invented site with awkward texts, for the formats and the hand-over."""

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geoprofile.engine.rows import frame
from geoprofile.site import Site

CRS = "EPSG:32628"
EAST, NORTH = 500_000.0, 4_000_000.0
LONG = "long text ü " * 40


def _holes():
    rows = [
        {
            "borehole": name,
            "x": EAST + 40.0 * i,
            "y": NORTH,
            "ground_elevation_m": 10.0 + i,
            "measuring_point_height_m": -0.25,
            "depth_m": 30.0,
            "drilled_on": "2031-04-02",
            "remarks": remarks,
            "geometry": shapely.Point(EAST + 40.0 * i, NORTH, 10.0 + i),
        }
        for i, (name, remarks) in enumerate(
            [("A-1", "=cmd()"), ("B ø 2", LONG), ("<script>", None), ("-4", "@x")]
        )
    ]
    return frame("borehole", rows, CRS)


def _conductivity(holes):
    rows = [
        {
            "test": f"{hole.borehole}-t",
            "interval": f"{hole.borehole}-a",
            "borehole": hole.borehole,
            "top_m": 10.0,
            "bottom_m": 12.0,
            "method": "by hand",
            "k_m_per_s": 1.2345678901234e-7,
            "sd_log10_k": 0.1,
            "grade": "accepted",
            "preferred": True,
            "readings_used": 31 if hole.borehole == "A-1" else None,
            "geometry": shapely.LineString(
                [(hole.x, hole.y, hole.ground_elevation_m - d) for d in (10.0, 12.0)]
            ),
        }
        for hole in holes.itertuples()
    ]
    return frame("conductivity", rows, CRS)


def _bands():
    shape = shapely.MultiPolygon(
        [shapely.box(0, -5, 20, 0) - shapely.box(2, -3, 4, -2), shapely.box(30, -9, 40, -2)]
    )
    row = {
        "section": "s",
        "quantity": "K",
        "statistic": "median",
        "lower": 1e-6,
        "unit": "m/s",
        "label": "1e-6 m/s or more",
        "geometry": shape,
    }
    return frame("section_band", [row], CRS)


def _areas():
    shape = shapely.box(EAST - 10, NORTH - 10, EAST + 200, NORTH + 50)
    return gpd.GeoDataFrame({"name": ["yard"], "kind": ["site"]}, geometry=[shape], crs=CRS)


@pytest.fixture(scope="session")
def awkward_site():
    """Four vertical holes with awkward names, a test in each, one area and one section band."""
    holes = _holes()
    tables = {
        "borehole": holes.assign(own_note=["x", None, "y", "z"]),
        "conductivity": _conductivity(holes),
        "section_band": _bands(),
        "area": _areas(),
        "survey": pd.DataFrame(columns=["borehole", "depth_m", "inclination_deg", "azimuth_deg"]),
        "lithology": frame(
            "lithology",
            [{"borehole": "A-1", "top_m": 0.0, "bottom_m": 30.0, "unit": "-sand"}],
            CRS,
        ),
    }
    return Site("Works & co / <b>", CRS, "yard datum", tables=tables)
