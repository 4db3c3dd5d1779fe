"""From tables to the record of a test: radii, depths, units."""

from __future__ import annotations

import math

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geoprofile.errors import DataError
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.products.conductivity.inputs import hydraulic_tests
from geoprofile.site import Site

CRS = "EPSG:32628"
LEAN_DEG = 25.0


def site(*, lean: float = 0.0, kinds: dict[str, float] | None = None, **test: object) -> Site:
    """One hole, one interval of 2 m, one test."""
    hole = gpd.GeoDataFrame(
        {
            "borehole": ["W"],
            "x": [0.0],
            "y": [0.0],
            "ground_elevation_m": [10.0],
            "depth_m": [40.0],
        },
        geometry=[shapely.Point(0, 0, 10)],
        crs=CRS,
    )
    survey = pd.DataFrame(
        {"borehole": "W", "depth_m": [0.0], "inclination_deg": [lean], "azimuth_deg": [90.0]}
    )
    built = kinds or {"open hole": 96.0}
    row = {
        "test": "T",
        "interval": "W-1",
        "kind": "falling head",
        "riser_diameter_mm": 52.0,
        "tube_diameters_mm": "9.5 9.5",
        "status": "use",
        **test,
    }
    return Site(
        "s",
        CRS,
        "",
        tables={
            "borehole": hole,
            "survey": survey if lean else survey.iloc[:0],
            "construction": pd.DataFrame(
                {
                    "borehole": "W",
                    "top_m": 0.0,
                    "bottom_m": 40.0,
                    "kind": list(built),
                    "diameter_mm": list(built.values()),
                }
            ),
            "interval": pd.DataFrame(
                {
                    "interval": ["W-1"],
                    "borehole": ["W"],
                    "top_m": [20.0],
                    "bottom_m": [22.0],
                    "isolation": ["straddle"],
                    "static_depth_m": [5.0],
                }
            ),
            "test": pd.DataFrame([row]),
        },
    )


def only(given: Site) -> HydraulicTest:
    """The one record."""
    ((_, record),) = hydraulic_tests(given)
    if isinstance(record, DataError):
        raise record
    return record


def test_tubes_shrink_the_riser() -> None:
    """Two 9.5 mm tubes in a 52 mm pipe leave an area as in Butler (1998): sqrt(ri2 - sum ro2)."""
    record = only(site())
    expected = math.sqrt(0.026**2 - 2 * 0.00475**2)
    assert record.effective_riser_radius_m == pytest.approx(expected)


def test_a_leaning_pipe_has_a_larger_water_surface() -> None:
    """A level surface cuts a pipe that leans by 25 degrees in an ellipse: area / cos(25)."""
    upright = only(site()).effective_riser_radius_m
    leaning = only(site(lean=LEAN_DEG)).effective_riser_radius_m
    assert upright is not None
    assert leaning is not None
    ratio = (leaning / upright) ** 2
    assert ratio == pytest.approx(1 / math.cos(math.radians(LEAN_DEG)), rel=1e-6)


def test_depths_of_a_leaning_hole_are_vertical() -> None:
    """20 m along a hole that leans by 25 degrees is 20 cos(25) m deep."""
    record = only(site(lean=LEAN_DEG))
    assert record.top_m == pytest.approx(20 * math.cos(math.radians(LEAN_DEG)))
    assert record.interval_length_m == 2.0


def test_the_filter_pack_is_the_wall_of_a_screened_well() -> None:
    """Where a screen stands in a pack, the formation begins outside the pack."""
    record = only(site(kinds={"screen": 52.0, "filter pack": 120.0}))
    assert record.hole_radius_m == pytest.approx(0.060)
    assert record.pack_radius_m == pytest.approx(0.060)


def test_excluded_tests_are_left_out() -> None:
    """Status exclude keeps the test in the table and out of the analysis."""
    assert list(hydraulic_tests(site(status="exclude"))) == []


def test_no_construction_is_an_error_that_says_so() -> None:
    """Without a diameter there is no K."""
    given = site()
    bare = given.with_tables({"construction": given.table("construction").iloc[:0]})
    ((_, record),) = hydraulic_tests(bare)
    assert isinstance(record, DataError)
    assert "construction" in str(record)


def test_the_aquifer_is_counted_from_its_top_where_that_is_known() -> None:
    """Top at 12 m and 10 m thick: base at 22 m; else counted from the static level."""
    record = only(site(aquifer_top_m=12.0, aquifer_thickness_m=10.0))
    assert (record.aquifer_top_m, record.aquifer_base_m) == (12.0, 22.0)
    assert only(site(aquifer_thickness_m=10.0)).aquifer_base_m == 15.0


def test_an_injection_knows_its_pipe() -> None:
    """Friction needs the length and the inside diameter of the string."""
    record = only(site(kind="constant head", riser_diameter_mm=38.0))
    assert record.pipe is not None
    assert record.pipe.length_m == 20.0
    assert record.pipe.inner_diameter_m == pytest.approx(0.038)
