"""Samples of a zone and round come together without inventing numbers."""

from __future__ import annotations

import math
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.concentration import concentration
from geoprofile.site import Site

CRS = "EPSG:32628"
SETTINGS = {
    "sd_log10": 0.08,
    "largest_difference": 30.0,
    "one_place_m": 1.0,
    "one_place_factor": 100.0,
}


def compute(results: list[dict[str, Any]], kinds: dict[str, str]) -> dict[str, pd.DataFrame]:
    """The layer on one interval with the given samples and results."""
    holes = gpd.GeoDataFrame(
        {
            "borehole": ["W"],
            "x": [0.0],
            "y": [0.0],
            "ground_elevation_m": [10.0],
            "depth_m": [20.0],
        },
        geometry=[shapely.Point(0, 0, 10)],
        crs=CRS,
    )
    tables = {
        "borehole": holes,
        "interval": pd.DataFrame(
            {"interval": ["W-1"], "borehole": ["W"], "top_m": [5.0], "bottom_m": [6.5]}
        ),
        "sample": pd.DataFrame(
            {
                "sample": list(kinds),
                "interval": "W-1",
                "sampled_at": "2031-05-01T10:00:00Z",
                "round": "spring",
                "kind": list(kinds.values()),
                "medium": "water",
            }
        ),
        "result": pd.DataFrame(
            [{"analyte": "benzene", "unit": "ug/L", "qualifier": None, **r} for r in results]
        ),
        "criterion": pd.DataFrame(
            {"analyte": ["benzene"], "value": [0.001], "unit": ["mg/L"], "basis": ["own"]}
        ),
    }
    site = Site("test", CRS, "", tables=tables)
    return dict(concentration.compute(site, SETTINGS, no_progress))


def hit(sample: str, value: float, unit: str = "ug/L") -> dict[str, Any]:
    """A detected result."""
    return {"sample": sample, "value": value, "limit": math.nan, "detected": True, "unit": unit}


def miss(sample: str, limit: float) -> dict[str, Any]:
    """A result below its limit."""
    return {"sample": sample, "value": math.nan, "limit": limit, "detected": False}


def test_a_nondetect_keeps_its_limit_and_has_no_value() -> None:
    """Nothing is put in the place of a value that was not found."""
    row = compute([miss("a", 0.5)], {"a": "primary"})["concentration"].iloc[0]
    assert math.isnan(row["value_ug_per_l"])
    assert row["limit_ug_per_l"] == 0.5
    assert row["exceeds"] is False or not row["exceeds"]


def test_a_limit_above_the_criterion_leaves_the_question_open() -> None:
    """Below 5 says nothing about a criterion of 1."""
    row = compute([miss("a", 5.0)], {"a": "primary"})["concentration"].iloc[0]
    assert pd.isna(row["exceeds"])


def test_milligrams_become_micrograms() -> None:
    """0.012 mg/L is 12 ug/L, and lies above 0.001 mg/L."""
    row = compute([hit("a", 0.012, "mg/L")], {"a": "primary"})["concentration"].iloc[0]
    assert row["value_ug_per_l"] == pytest.approx(12.0)
    assert row["exceeds"]


def test_duplicates_are_averaged_and_their_spread_is_used() -> None:
    """12.4 and 15.1: mean 13.75, difference 19.6 %, sd of log10 of the mean from the pair."""
    made = compute([hit("a", 12.4), hit("b", 15.1)], {"a": "primary", "b": "duplicate"})
    row = made["concentration"].iloc[0]
    assert row["value_ug_per_l"] == pytest.approx(13.75)
    assert row["sd_log10"] == pytest.approx(math.log10(15.1 / 12.4) / 2)
    assert made["finding"].empty  # 19.6 % is under the 30 % of the settings


def test_a_sample_alone_says_nothing_of_repeatability() -> None:
    """Another analyte without a duplicate does not make the pair of benzene look better."""
    alone = hit("a", 300.0) | {"analyte": "toluene"}
    made = compute([hit("a", 12.4), hit("b", 15.1), alone], {"a": "primary", "b": "duplicate"})
    rows = made["concentration"].set_index("analyte")
    sd = math.log10(15.1 / 12.4) / math.sqrt(2)
    assert rows.loc["toluene", "sd_log10"] == pytest.approx(sd)
    assert rows.loc["benzene", "sd_log10"] == pytest.approx(sd / math.sqrt(2))


def test_a_poor_pair_is_reported() -> None:
    """Duplicates a factor of two apart become a finding."""
    made = compute([hit("a", 10), hit("b", 20)], {"a": "primary", "b": "duplicate"})
    assert "differ by 67 %" in made["finding"].iloc[0]["what"]


def test_a_blank_is_no_result_of_the_zone() -> None:
    """A blank stays out of the value, and what was found in it is reported."""
    made = compute([hit("a", 10), hit("b", 1)], {"a": "primary", "b": "blank"})
    assert made["concentration"].iloc[0]["value_ug_per_l"] == 10
    assert "in a blank" in made["finding"].iloc[0]["what"]


def test_a_rejected_result_is_left_out_and_told() -> None:
    """A result that the laboratory rejected (R) makes no concentration, but a finding."""
    made = compute(
        [{**hit("a", 10), "qualifier": "R"}, hit("b", 4)], {"a": "primary", "b": "primary"}
    )
    assert made["concentration"].iloc[0]["value_ug_per_l"] == 4
    (row,) = made["finding"].to_dict("records")
    assert row["row_key"].startswith("a ")
    assert "rejected" in row["what"]
