"""Which result of an interval counts, round by round: the plume of a partial round stays."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.errors import UsageError
from geoprofile.products.concentration.campaigns import (
    declared_campaigns,
    in_campaigns,
    is_round,
)
from geoprofile.products.concentration.filled import marked_old, told

TIMES = {"R1": "2031-05-01T10:00:00Z", "R2": "2031-08-01T10:00:00Z", "R3": "2031-10-01T10:00:00Z"}


def row(interval: str, round_name: str, value: float | None = 10.0, **more: Any) -> dict[str, Any]:
    """A row of one round, before rounds are brought together."""
    return {
        "interval": interval,
        "borehole": interval.split("-")[0],
        "top_m": 5.0,
        "bottom_m": 6.0,
        "analyte": "TCE",
        "round": round_name,
        "medium": "water",
        "sampled_at": TIMES[round_name],
        "value_ug_per_l": value,
        "detected": value is not None,
        "limit_ug_per_l": 0.5 if value is None else None,
        "notes": None,
        **more,
    }


def of(rows: list[dict[str, Any]], name: str) -> dict[str, dict[str, Any]]:
    """The rows of one campaign by interval."""
    return {r["interval"]: r for r in rows if r["round"] == name}


FULL = [row(f"{h}-1", r) for r in ("R1", "R2") for h in "ABCD"]


def test_complete_rounds_stay_as_they_are() -> None:
    """Where every round visits every interval nothing is taken over."""
    found = in_campaigns(FULL, {})
    assert {r["round"] for r in found} == {"R1", "R2"}
    assert len(found) == len(FULL)
    assert all(r["age_d"] == 0 and r["sampled_round"] == r["round"] for r in found)


def test_a_round_of_one_new_hole_holds_the_earlier_results() -> None:
    """The plume of the four others stays, and says how old it is."""
    found = of(in_campaigns([*FULL, row("E-1", "R3", None)], {}), "R3 and earlier")
    assert set(found) == {"A-1", "B-1", "C-1", "D-1", "E-1"}
    assert found["A-1"]["sampled_round"] == "R2"
    assert found["A-1"]["age_d"] == pytest.approx(61.0)
    assert found["E-1"]["age_d"] == 0


def test_a_declared_campaign_holds_its_own_rounds_only() -> None:
    """Its latest results by interval; a name of its own, and no earlier round."""
    rows = [*FULL, row("E-1", "R3", None), row("A-1", "R3", 3.0)]
    found = in_campaigns(rows, declared_campaigns(["second: R2, R3"]))
    second = of(found, "second")
    assert set(second) == {"A-1", "B-1", "C-1", "D-1", "E-1"}
    assert second["A-1"]["value_ug_per_l"] == 3.0
    assert {r["round"] for r in found} == {"R1", "second"}
    alone = of(in_campaigns(rows, declared_campaigns(["R3: R3"])), "R3")
    assert set(alone) == {"A-1", "E-1"}


def test_a_zone_cut_anew_takes_the_place_of_the_old_one() -> None:
    """A long zone of which later ones cover half or more counts no longer, a tenth does not do."""
    long = row("A-1", "R1", 500.0, top_m=10.0, bottom_m=20.0)
    short = row("A-2", "R2", 5.0, top_m=10.0, bottom_m=13.0)
    more = row("A-3", "R2", 4.0, top_m=15.0, bottom_m=18.0)
    assert "A-1" not in {r["interval"] for r in in_campaigns([long, short, more], {})[1:]}
    found = of(in_campaigns([long, short], {}), "R2 and earlier")
    assert set(found) == {"A-1", "A-2"}


def test_a_result_that_says_nothing_takes_no_place() -> None:
    """Neither value nor limit: the earlier result stays."""
    empty = row("A-1", "R2", None, limit_ug_per_l=None)
    found = in_campaigns([row("A-1", "R1", 9.0), row("B-1", "R2"), empty], {})
    assert of(found, "R2 and earlier")["A-1"]["value_ug_per_l"] == 9.0


def test_the_later_sample_counts_whatever_the_round_is_called() -> None:
    """A round that ends later may hold a sample that was taken earlier."""
    early = row("A-1", "R2", 7.0, sampled_at="2031-04-01T10:00:00Z")
    found = in_campaigns([row("A-1", "R1", 9.0), early, row("B-1", "R2")], {})
    assert of(found, "R2 and earlier")["A-1"]["value_ug_per_l"] == 9.0


@pytest.mark.parametrize("said", ["R1, R2", "a:", ": R1", "a: R1, R1"])
def test_a_campaign_of_another_form_is_refused(said: str) -> None:
    """The form is named in the refusal."""
    with pytest.raises(UsageError, match="summer 2025"):
        declared_campaigns([said])


def test_old_results_are_marked_and_told() -> None:
    """More than the days allowed: a note on the row, and a warning that counts them."""
    rows = marked_old(in_campaigns([*FULL, row("E-1", "R3", None)], {}), 30.0)
    found = of(rows, "R3 and earlier")
    assert found["A-1"]["notes"].startswith("old: sampled 61 d before")
    assert found["E-1"]["notes"] is None
    [one] = told(rows, {}, set(TIMES), 30.0)
    assert one["severity"] == "warning"
    assert "left out 4 of 5 intervals" in one["what"]
    assert "4 of R2" in one["what"]


def test_names_that_do_not_fit_the_rounds_are_told() -> None:
    """A round that has no result, and a campaign with the name of a round not its own."""
    declared = declared_campaigns(["autumn: R3, R9"])
    [one] = told(in_campaigns(FULL, declared), declared, {"R1", "R2", "R3"}, 400.0)
    assert "R9" in one["what"]
    with pytest.raises(UsageError, match="name of a round"):
        told([], declared_campaigns(["R1: R2"]), {"R1", "R2"}, 400.0)


def test_a_round_goes_by_its_own_name() -> None:
    """Whoever asks for R3 finds it, with or without earlier results."""
    assert is_round("R3 and earlier", "R3")
    assert is_round("R3", "R3")
    assert not is_round("R2", "R3")
    assert not is_round(None, "R3")


@given(st.sets(st.tuples(st.sampled_from("ABCDE"), st.sampled_from(sorted(TIMES))), min_size=1))
def test_the_latest_campaign_holds_the_latest_of_every_interval(
    sampled: set[tuple[str, str]],
) -> None:
    """Whatever was visited when: each interval once, with its newest result, none lost."""
    found = in_campaigns([row(f"{h}-1", r) for h, r in sorted(sampled)], {})
    last = max(found, key=lambda r: (r["sampled_at"], r["round"]))["round"]
    kept = of(found, last)
    assert set(kept) == {f"{h}-1" for h, _ in sampled}
    for name, one in kept.items():
        assert one["sampled_round"] == max(r for h, r in sampled if f"{h}-1" == name)
