"""The programme of field work for a budget, on the small made-up site."""

from __future__ import annotations

from functools import cache

import pandas as pd
import pytest
from beside import module_of

from geoprofile.kriging.predict.model import Model
from geoprofile.plugins import no_progress
from geoprofile.products.advice import field_programme, sure
from geoprofile.products.advice.known import known_of
from geoprofile.products.advice.search import search_of
from geoprofile.products.model.fitted import field_of

SETTINGS = {s.name: s.default for s in field_programme.PLUGIN.settings}

MADE = module_of("unit/products/test_next_borehole.py")


@cache
def steps(**settings: float) -> pd.DataFrame:
    """The programme with some settings."""
    found = field_programme.compute(MADE.site(), {**SETTINGS, **settings}, no_progress)
    table: pd.DataFrame = found["field_programme"]
    return table


@cache
def stop(**settings: float) -> str:
    """Why it stops."""
    found = field_programme.compute(MADE.site(), {**SETTINGS, **settings}, no_progress)
    return str(found["finding"]["what"].iloc[0])


def test_without_a_budget_nothing_is_computed() -> None:
    """The default: a run pays nothing for it."""
    assert steps().empty


@pytest.mark.parametrize("budget", [500.0, 6000.0, 20000.0])
def test_the_budget_is_kept_and_sums_add_up(budget: float) -> None:
    """Sums of money and days; the volume left falls by each gain."""
    table = steps(budget=budget)
    assert table["cost"].sum() <= budget + 1e-6
    assert list(table["total_cost"]) == pytest.approx(list(table["cost"].cumsum()))
    assert list(table["total_days_d"]) == pytest.approx(list(table["days_d"].cumsum()))
    falls = table["left_m3"].diff().dropna()
    assert list(-falls) == pytest.approx(list(table["gain_m3"].iloc[1:]))
    assert list(table["number"]) == list(range(1, len(table) + 1))


def test_what_comes_once_is_paid_once() -> None:
    """By hand: rig 3000 and set-up 300 with the first hole, 300 with each further one."""
    table = steps(budget=40000.0)
    holes = table[table["step"] == "new borehole"]
    assert len(holes) >= 2
    zones = holes["zones"].str.split("; ").str.len()
    alone = 150.0 * holes["depth_m"] + zones * (250.0 + 150.0) + 300.0
    assert list(holes["cost"] - alone) == pytest.approx([3000.0] + [0.0] * (len(holes) - 1))
    tests = table[table["step"] == "test"]
    first = ~tests["borehole"].duplicated()
    assert list(tests["cost"]) == pytest.approx(list(400.0 + 300.0 * first))


def test_more_money_never_leaves_more_open() -> None:
    """Of three budgets the larger one leaves less."""
    left = [float(steps(budget=b)["left_m3"].iloc[-1]) for b in (2000.0, 6000.0, 20000.0)]
    assert left == sorted(left, reverse=True)


def test_a_value_stops_before_the_money_is_spent() -> None:
    """Each step that is taken pays for itself, and the rest of the budget stays."""
    table = steps(budget=40000.0, value_m3=0.05)
    assert table["cost"].sum() < 40000.0 - 400.0
    assert "not worth" not in stop(budget=500.0)
    assert "worth its cost" in stop(budget=40000.0, value_m3=1e-6)
    assert steps(budget=40000.0, value_m3=1e-6).empty


def test_days_are_a_limit_too() -> None:
    """Ten days of laboratory leave two in the field."""
    table = steps(budget=40000.0, days=12.0)
    assert 0 < table["days_d"].sum() <= 2.0 + 1e-9
    assert steps(budget=40000.0, days=9.0).empty  # the laboratory alone takes longer


def test_every_step_says_what_to_mind() -> None:
    """Pressure and contaminated water for a test, utilities for a new hole."""
    table = steps(budget=40000.0)
    tests, holes = (table[table["step"] == s]["cautions"] for s in ("test", "new borehole"))
    assert len(tests)
    assert tests.str.contains("before inflating").all()
    assert tests.str.contains("contaminated").all()
    assert holes.str.contains("buried services").all()


def test_steps_keep_apart() -> None:
    """No zone of a hole covers more than a quarter of another; new holes stand 5 m apart."""
    table = steps(budget=40000.0)
    for _, rows in table[table["step"] == "test"].groupby("borehole"):
        ends = [tuple(float(x) for x in zones.split("-")) for zones in rows["zones"]]
        for k, (top, bottom) in enumerate(ends):
            for first, last in ends[:k]:
                over = max(min(bottom, last) - max(top, first), 0.0)
                assert over <= 0.25 * (last - first) + 1e-6
    places = table[table["step"] == "new borehole"].geometry
    for k, place in enumerate(places):
        assert all(place.distance(other) >= 5.0 for other in places.iloc[:k])


def test_where_the_shape_is_held_no_step_is_taken_without_the_model() -> None:
    """Held-out boreholes of this plume are predicted well: the shape alone says what pays."""
    assert field_of(MADE.site(), "X").model.doubt < 0.05
    assert not steps(budget=6000.0)["reason"].str.contains("whatever the shape").any()


def test_where_it_is_doubted_every_second_test_halves_a_gap(monkeypatch) -> None:
    """By hand: results at 8, 17 and 26 m, only the middle one of H0 and H1 above: 7 m each way."""
    monkeypatch.setattr(Model, "doubt", property(lambda _: 0.4))
    found = field_programme.compute(MADE.site(), {**SETTINGS, "budget": 6000.0}, no_progress)
    table = found["field_programme"].set_index("number")
    tests = [table.loc[k, ["borehole", "zones"]].tolist() for k in (2, 4, 6, 8)]
    assert sorted(tests) == [[h, z] for h in ("H0", "H1") for z in ("12.5-14.5", "21.5-23.5")]
    assert table.loc[[2, 4, 6, 8], "reason"].str.contains("halves what lies untested").all()


def test_a_hole_without_a_result_is_tested_beside_one_above(monkeypatch) -> None:
    """H3 forgotten: its zone at the level of the result above in H1, 35 m away, comes first."""
    monkeypatch.setattr(Model, "doubt", property(lambda _: 0.4))
    field, search = field_of(MADE.site(), "X"), search_of(MADE.site(), SETTINGS)
    told = [one for one in known_of(MADE.site(), field) if one.borehole != "H3"]
    monkeypatch.setattr(sure, "known_of", lambda *_: told)
    monkeypatch.setattr(sure, "_results", lambda *_: [])
    ((setup, why),) = sure.sure_setups(MADE.site(), field, search.setups, search)
    assert (setup.borehole, setup.top_m, setup.bottom_m) == ("H3", 17.0, 19.0)
    assert "first test of that hole" in why
