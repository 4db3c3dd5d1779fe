"""Forecasts that were kept are held against results that came later."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from geoprofile.engine.rows import frame
from geoprofile.handover.private import without_private
from geoprofile.products.advice.track_record import forecasts_to_keep, track_record
from geoprofile.site import Site, records_of

CRS = "EPSG:32628"
RANGE = {"predicted_low": 3.0, "predicted_median": 12.0, "predicted_high": 40.0}


def proposed(top: float, *, hole: str = "H1", quantity: str = "X") -> dict[str, Any]:
    """A proposal of two metres that is expected to cut what is uncertain by a tenth."""
    unit = "m/s" if quantity == "K" else "ug/L"
    place = {"borehole": hole, "top_m": top, "bottom_m": top + 2.0, "quantity": quantity}
    return {**place, **RANGE, "predicted_unit": unit, "rank": 1, "gain_share": 0.1}


def sampled(top: float, value: float | None, *, limit: float = 0.5, **more: Any) -> dict[str, Any]:
    """A result of an interval of two metres."""
    return {
        "interval": f"H1-{top:g}",
        "borehole": "H1",
        "top_m": top,
        "bottom_m": top + 2.0,
        "analyte": "X",
        "round": "R1",
        "medium": "water",
        "sampled_at": pd.Timestamp("2031-05-01", tz="UTC"),
        "value_ug_per_l": value,
        "detected": value is not None,
        "limit_ug_per_l": limit,
        **more,
    }


def advised(site: Site, tests: list[dict[str, Any]], uncertain: float = 1000.0) -> Site:
    """The site after advice: its forecasts stand beside those before."""
    names = sorted({t["quantity"] for t in tests})
    left = [
        {"quantity": n, "round": None if n == "K" else "R1", "uncertain_m3": uncertain}
        for n in names
    ]
    after = site.with_tables(
        {
            "next_test": frame("next_test", tests, CRS),
            "remaining_uncertainty": frame("remaining_uncertainty", left, CRS),
        }
    )
    new = forecasts_to_keep(site, after)
    old = site.table("forecast")
    both = [f for f in (old[~old["forecast"].isin(new["forecast"])], new) if len(f)]
    return after.with_tables({"forecast": pd.concat(both, ignore_index=True)})


def found(site: Site, *rows: dict[str, Any]) -> Site:
    """The site with results."""
    return site.with_tables({"concentration": frame("concentration", list(rows), CRS)})


BARE = Site("made up", CRS, "datum")


def test_nothing_is_said_before_a_result() -> None:
    """No advice, or no result of it: no record."""
    assert track_record(BARE) == ()
    assert track_record(advised(BARE, [proposed(10.0)])) == ()


def test_result_inside_its_interval() -> None:
    """Of two proposed tests one is done; the volume of uncertain classification fell by more than
    predicted.
    """
    site = found(advised(BARE, [proposed(10.0), proposed(20.0)]), sampled(10.5, 9.5))
    site = advised(site, [proposed(30.0)], uncertain=800.0)
    (record,) = track_record(site)
    assert record.words == (
        "X: of 2 tests proposed earlier 1 done. H1 10.0 to 12.0 m: predicted 12 (3 to 40) µg/L,"
        " found 9.5: inside. Predicted that the volume of uncertain classification would"
        " fall by 10 %; it fell by 20 %."
    )


@pytest.mark.parametrize(
    ("value", "limit", "inside"),
    [
        (2.9, 0.5, False),
        (3.0, 0.5, True),
        (41.0, 0.5, False),
        (None, 2.0, False),
        (None, 5.0, True),
    ],
)
def test_inside_or_outside(value: float | None, limit: float, inside: bool) -> None:
    """A value counts by its place; a non-detect disagrees only where its limit lies below."""
    site = found(advised(BARE, [proposed(10.0)]), sampled(10.0, value, limit=limit))
    (record,) = track_record(site)
    assert record.results[0].inside is inside
    assert (record.inside, record.judged) == (int(inside), 1)


def test_other_places_and_older_rounds_are_no_results_of_it() -> None:
    """A neighbour that covers less than half, another hole and an earlier round do not count."""
    site = advised(BARE, [proposed(10.0)])
    early = pd.Timestamp("2030-05-01", tz="UTC")
    rows = (
        sampled(11.5, 9.0),
        sampled(10.0, 9.0, borehole="H2"),
        sampled(10.0, 9.0, round="R0", sampled_at=early),
    )
    assert track_record(found(site, *rows)) == ()
    late = sampled(10.0, 9.0, round="R2", sampled_at=pd.Timestamp("2032-05-01", tz="UTC"))
    assert len(track_record(found(site, *rows, late))) == 1


def test_rejected_k_is_no_result() -> None:
    """K is judged from tests that were not rejected."""
    site = advised(BARE, [proposed(10.0, quantity="K")])
    row = {"interval": "a", "borehole": "H1", "top_m": 10.0, "bottom_m": 12.0, "k_m_per_s": 9.0}
    for grade, count in (("rejected", 0), ("qualified", 1)):
        known = frame("interval_conductivity", [{**row, "grade": grade}], CRS)
        assert len(track_record(site.with_tables({"interval_conductivity": known}))) == count


def test_same_advice_keeps_its_number_and_all_results_add_up() -> None:
    """Advice made again is the same; a second advice is judged together with the first."""
    first = advised(BARE, [proposed(10.0)])
    again = advised(first, [proposed(10.0)])
    assert records_of(first.table("forecast")) == records_of(again.table("forecast"))
    site = advised(found(again, sampled(10.0, 9.5)), [proposed(20.0)])
    later = pd.Timestamp("2031-06-01", tz="UTC")
    since = sampled(20.0, 90.0, sampled_at=later)
    site = advised(found(site, sampled(10.0, 9.5), since), [proposed(30.0)])
    assert list(site.table("forecast")["advice"]) == [1, 2, 3]
    (record,) = track_record(site)
    assert [r.top_m for r in record.results] == [20.0]
    assert record.words.endswith("So far 1 of 2 results lay in their 80 % interval.")


def test_what_was_sampled_before_the_advice_is_no_result_of_it() -> None:
    """A sample as old as the newest that the advice knew does not count; one a day later does."""
    site = advised(found(BARE, sampled(0.0, 5.0)), [proposed(10.0)])
    assert track_record(found(site, sampled(0.0, 5.0), sampled(10.0, 9.0))) == ()
    late = sampled(10.0, 9.0, sampled_at=pd.Timestamp("2031-05-02", tz="UTC"))
    assert len(track_record(found(site, sampled(0.0, 5.0), late))) == 1


def test_forecasts_stay_at_home() -> None:
    """What is handed over holds no forecasts of earlier advice."""
    assert "forecast" not in without_private(advised(BARE, [proposed(10.0)])).tables
