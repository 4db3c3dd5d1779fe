"""Zones and whole holes are held against each other."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.conductivity import consistency
from geoprofile.site import Site

CRS = "EPSG:32628"
SETTINGS = {"head_difference_m": 0.3, "transmissivity_factor": 3.0}


def site(*, open_head: float, whole: float | None = None) -> Site:
    """Zones with T 3e-6 and 1e-6 m2/s and heads 50 and 54 m; perhaps a whole-hole test."""
    point = shapely.Point(0, 0, 0)
    names = ["upper", "lower", *(["all"] if whole else [])]
    transmissivity = [3e-6, 1e-6, *([whole] if whole else [])]
    tops = [10.0, 20.0, 8.0][: len(names)]
    bottoms = [12.0, 22.0, 30.0][: len(names)]
    values = gpd.GeoDataFrame(
        {
            "interval": names,
            "borehole": "W",
            "top_m": tops,
            "bottom_m": bottoms,
            "transmissivity_m2_per_s": transmissivity,
            "grade": "accepted",
        },
        geometry=[point] * len(names),
        crs=CRS,
    )
    intervals = pd.DataFrame(
        {
            "interval": names,
            "borehole": "W",
            "top_m": tops,
            "bottom_m": bottoms,
            "isolation": ["straddle", "straddle", "open hole"][: len(names)],
        }
    )
    heads = gpd.GeoDataFrame(
        {
            "interval": ["upper", "lower", None],
            "borehole": "W",
            "measured_at": "2031-05-01T10:00:00Z",
            "head_m": [50.0, 54.0, open_head],
        },
        geometry=[point] * 3,
        crs=CRS,
    )
    tables = {"interval_conductivity": values, "interval": intervals, "head": heads}
    return Site("s", CRS, "", tables=tables)


def findings(given: Site) -> list[str]:
    """What the layer says."""
    return list(consistency.compute(given, SETTINGS, no_progress)["finding"]["what"])


def test_the_open_hole_shows_the_weighted_mean_of_its_zones() -> None:
    """(3 x 50 + 1 x 54) / 4 = 51 m: an open-hole head of 51.1 m is no finding."""
    assert findings(site(open_head=51.1)) == []


def test_another_head_is_reported_with_its_size() -> None:
    """53 m is 2 m off."""
    (what,) = findings(site(open_head=53.0))
    assert "+2.00 m" in what


def test_the_whole_hole_is_the_sum_of_its_zones() -> None:
    """4e-6 m2/s in all: a whole-hole value of 4e-6 is no finding, 4e-5 is one."""
    assert findings(site(open_head=51.0, whole=4e-6)) == []
    (what,) = findings(site(open_head=51.0, whole=4e-5))
    assert "4e-05 m2/s, sum of 2 zones 4e-06" in what
