"""Heads that are too old are named, with the rule and the setting that leaves them out."""

from __future__ import annotations

import geopandas as gpd
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.heads import flow
from geoprofile.products.heads.limits import in_words
from geoprofile.site import Site

CRS = "EPSG:32632"


def site(last: str) -> Site:
    """Four boreholes with a head, the last of them measured at another time."""
    places = [(0, 0), (100, 0), (0, 100), (80, 90)]
    times = ["2031-01-01T10:00:00Z"] * 3 + [last]
    heads = gpd.GeoDataFrame(
        {
            "interval": None,
            "borehole": ["B1", "B2", "B3", "B4"],
            "measured_at": times,
            "head_m": [10.0, 9.9, 10.0, 9.92],
        },
        geometry=[shapely.Point(x, y, 5) for x, y in places],
        crs=CRS,
    )
    return Site("made-up", CRS, "", tables={"head": heads})


def test_one_later_level_says_whom_it_leaves_out() -> None:
    """421 days later: who, since when, by which setting, and what cannot be made."""
    late = site("2032-02-26T10:00:00Z")
    found = flow.compute(late, {"days": 400.0}, no_progress)
    assert found["flow"].empty
    told = " ".join(found["finding"]["what"])
    assert "3 borehole(s) (B1, B2, B3)" in told
    assert "flow.days" in told
    old, none = in_words(late)
    assert "B4, 2032-02-26" in old
    assert none.startswith("No direction of flow and no mass discharge")


def test_heads_of_one_time_need_no_words() -> None:
    """Within the days all count."""
    together = site("2031-02-01T10:00:00Z")
    found = flow.compute(together, {"days": 400.0}, no_progress)
    assert len(found["flow"]) == 1
    made = together.with_tables({"flow": found["flow"]})
    assert in_words(made) == ()
