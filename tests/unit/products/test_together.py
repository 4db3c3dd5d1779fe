"""One list of proposals: spots that are one, and the order."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.engine.rows import frame
from geoprofile.plugins import no_progress
from geoprofile.products.advice import next_step
from geoprofile.products.advice.together import by_worth, clear_of, merged
from geoprofile.site import Site

CRS = "EPSG:32628"


def row(quantity: str, spot: int, share: float, cost: float = 2.0) -> dict[str, Any]:
    """A proposal."""
    return {
        "quantity": quantity,
        "spot": spot,
        "gain_share": share,
        "cost": cost,
        "reason": f"why {quantity}",
    }


PROPOSALS = st.lists(
    st.builds(
        row,
        st.sampled_from(["K", "TCE", "PCE"]),
        st.integers(0, 4),
        st.floats(1e-3, 1.0),
        st.floats(0.5, 9.0),
    ),
    max_size=12,
)


@given(PROPOSALS)
def test_each_spot_once_and_nothing_lost(rows: list[dict[str, Any]]) -> None:
    """As many rows as spots; every quantity is named; the shares are all counted."""
    done = by_worth(merged(rows, lambda r: r["spot"], lambda first, every: {}))
    assert sorted(r["spot"] for r in done) == sorted({r["spot"] for r in rows})
    assert [r["rank"] for r in done] == list(range(1, len(done) + 1))
    assert all(a["worth"] >= b["worth"] for a, b in pairwise(done))
    named = sum(1 + len((r["also"] or "").split(", ")) * bool(r["also"]) for r in done)
    assert named == len(rows)
    total = sum(r["worth"] * r["cost"] for r in done)
    assert total == pytest.approx(sum(r["gain_share"] for r in rows))


def test_an_analyte_leads_before_k_and_both_reasons_are_told() -> None:
    """By hand: shares 0.3 and 0.1 for a cost of 2."""
    rows = [row("K", 1, 0.3), row("TCE", 1, 0.1)]
    [one] = merged(rows, lambda r: r["spot"], lambda first, every: {})
    assert (one["quantity"], one["also"]) == ("TCE", "K")
    assert one["worth"] == pytest.approx(0.2)
    assert one["reason"] == "TCE: why TCE; K: why K"


def test_places_beside_a_proposed_hole_are_no_second_hole() -> None:
    """The place itself stays, for it costs nothing more; its neighbours within 5 m go."""
    xy = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 5.1]])
    assert clear_of(xy, xy[:1], 5.0).tolist() == [True, False, True]
    assert clear_of(xy, np.empty((0, 2)), 5.0).all()


def test_tests_and_boreholes_stand_in_one_list() -> None:
    """Numbered by worth, each with its place, zones and quantities; told in a line."""
    import shapely

    place = {"x_m": 5.0, "y_m": 6.0, "longitude_deg": None, "latitude_deg": None}
    test = {
        **place,
        "rank": 1,
        "borehole": "B1",
        "top_m": 10.0,
        "bottom_m": 12.0,
        "quantity": "TCE",
        "also": "K",
        "cost": 2.0,
        "worth": 0.01,
        "reason": "TCE: not bounded below; K: unsure",
        "geometry": shapely.LineString([[5, 6, -10], [5, 6, -12]]),
    }
    hole = {
        **place,
        "rank": 1,
        "depth_m": 25.0,
        "intervals": "4.0-6.0; 8.0-10.0",
        "quantity": "PCE",
        "cost": 20.0,
        "worth": 0.02,
        "reason": "not bounded to the south",
        "geometry": shapely.Point(50, 60, 1),
    }
    site = Site("made up", CRS, "local").with_tables(
        {
            "next_test": frame("next_test", [test], CRS),
            "next_borehole": frame("next_borehole", [hole], CRS),
        }
    )
    table: pd.DataFrame = next_step.compute(site, {}, no_progress)["next_step"]
    assert list(table["label"]) == ["D1", "T1"]
    assert list(table["number"]) == [1, 2]
    forecast = {
        **{name: test[name] for name in ("rank", "borehole", "top_m", "bottom_m", "quantity")},
        **{f"predicted_{end}": v for end, v in (("low", 3.1), ("median", 12.4), ("high", 38.0))},
        "predicted_unit": "ug/L",
    }
    told = {"next_step": table, "next_test_quantity": frame("next_test_quantity", [forecast], CRS)}
    first, second = next_step.steps_in_words(site.with_tables(told))
    assert first.startswith(
        "1. D1: new borehole, 25 m deep, zones 4.0-6.0 m, 8.0-10.0 m, at 5.00, 6.00"
    )
    assert "for TCE, K: TCE: not bounded below" in second
    assert second.endswith("; expected (10 to 90 %): TCE 12 (3.1 to 38) µg/L")
    assert "expected" not in first
