"""The figure of the advice: what it shows, as numbers."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

from geoprofile.engine.rows import frame
from geoprofile.errors import DataError
from geoprofile.products.advice.figure import advice_figure, depth_bars, left_open
from geoprofile.site import Site

CRS = "EPSG:32628"


def site() -> Site:
    """Two holes, one proposal in the second, one new borehole."""
    holes = [
        {
            "borehole": name,
            "x": x,
            "y": 20.0,
            "ground_elevation_m": 5.0,
            "depth_m": 30.0,
            "geometry": shapely.Point(x, 20.0, 5.0),
        }
        for name, x in (("B1", 0.0), ("B2", 60.0), ("B3", 30.0))
    ]
    intervals = [
        {
            "interval": f"{hole['borehole']}-1",
            "borehole": hole["borehole"],
            "top_m": 10.0,
            "bottom_m": 12.0,
            "isolation": "straddle",
        }
        for hole in holes
    ]
    tests = [
        {
            "rank": 1,
            "borehole": "B2",
            "top_m": 14.0,
            "bottom_m": 16.0,
            "quantity": "X",
            "reason": "between B1 and B2 lies the edge",
            "geometry": shapely.LineString([(60, 20, -9), (60, 20, -11)]),
        }
    ]
    new = [
        {
            "rank": 1,
            "depth_m": 20.0,
            "intervals": "8.0-10.0; 16.0-18.0",
            "quantity": "X",
            "reason": "far from all",
            "geometry": shapely.Point(30.0, 40.0, 5.0),
        }
    ]
    rows = {"borehole": holes, "interval": intervals, "next_test": tests, "next_borehole": new}
    return Site("made up", CRS, "datum", tables={n: frame(n, r, CRS) for n, r in rows.items()})


def test_depths_show_proposals_and_what_is_known() -> None:
    """Only holes with a proposal are shown, with their known intervals beside it."""
    assert depth_bars(site()) == {"B2": [(14.0, 16.0, "T1"), (10.0, 12.0, "")]}


def test_gain_stands_beside_its_proposal() -> None:
    """A share of 1.2 % is told under the rank."""
    tests = site().table("next_test").assign(gain_share=0.012)
    assert depth_bars(site().with_tables({"next_test": tests}))["B2"][0][2] == "T1\n1.2 %"


def test_what_stopping_leaves_is_told() -> None:
    """Volumes for an analyte, a factor for K: 10^sqrt(0.09) is 2.00."""
    left = [
        {"quantity": "K", "uncertain_m3": 90.6e3, "ground_m3": 1e6, "expected_m3": 40e3},
        {"quantity": "X", "uncertain_m3": 12345.0, "ground_m3": 1e6, "expected_m3": 9999.0},
    ]
    words = left_open(
        site().with_tables({"remaining_uncertainty": frame("remaining_uncertainty", left, CRS)})
    )
    assert "K known to a factor of 2.00 (1.58)" in words
    assert "X on the wrong side of its criterion in 12,000 (10,000) of 1,000,000 m³" in words
    assert left_open(site()) == ""


def test_figure_is_written_and_the_same_each_time(tmp_path: Path) -> None:
    """The same advice gives the same bytes."""
    first = advice_figure(site(), tmp_path / "a", formats=("svg",))[0].read_bytes()
    assert first == advice_figure(site(), tmp_path / "b", formats=("svg",))[0].read_bytes()


def test_no_advice_is_told(tmp_path: Path) -> None:
    """Without a proposal there is no figure but the reason where to look."""
    bare = site().with_tables(
        {name: frame(name, [], CRS) for name in ("next_test", "next_borehole")}
    )
    with pytest.raises(DataError, match="read the findings"):
        advice_figure(bare, tmp_path / "a")
