"""What a crew and a client need of a plan: own pipes, days with their reasons, blanks, units."""

from __future__ import annotations

from functools import cache

import pytest
from beside import module_of

from geoprofile.drawing import people, theme
from geoprofile.errors import DataError, UsageError
from geoprofile.packers import Pace, steps_for
from geoprofile.products.packer_plan.compute import make_plan
from geoprofile.products.packer_plan.figure import plan_html
from geoprofile.products.packer_plan.figure_record import LINES, draw_record
from geoprofile.products.packer_plan.figure_set_up import draw_setup
from geoprofile.products.packer_plan.pipes import with_pipes
from geoprofile.products.packer_plan.plan import Choices, Plan

US = people.Shown({"m": "ft", "mm": "in", "kPa": "psi", "L": "US gal"}, "US Letter")


@cache
def plan(purpose: str = "both") -> Plan:
    """A plan with K unknown."""
    made: Plan = module_of("unit/products/test_packer_plan.py").plan(purpose)
    return made


def texts(shown: people.Shown, draw: object) -> list[str]:
    """What a page says."""
    with people.shown_in(shown), theme.sheet(theme.paper_portrait()) as figure:
        draw(figure, plan(), 1)  # type: ignore[operator]
        return [t.get_text() for t in (*figure.texts, *(x for a in figure.axes for x in a.texts))]


def test_the_crews_pipes_are_counted() -> None:
    """10 ft is 3.048 m; a short pipe of 5 ft and two of 2 ft."""
    kept = with_pipes(Choices(), "2 ft, 10 ft, 5ft, 2ft")
    assert kept.pipe_m == pytest.approx(3.048)
    assert kept.short_pipes_m == pytest.approx((0.6096, 0.6096, 1.524))
    made = make_plan(module_of("unit/products/test_packer_plan.py").site(), "B1", choices=kept)
    for visit in made.visits:
        tally = visit.tally
        assert tally.pipe_m == pytest.approx(3.048)
        length = tally.tool_m + tally.pipes * tally.pipe_m + sum(tally.short_pipes_m)
        assert length == pytest.approx(visit.setup.top_m + tally.stick_up_m, abs=0.011)


@pytest.mark.parametrize("said", ["10", "ten ft", "100 ft", "0 m", "3 m,", ""])
def test_other_pipes_are_refused(said: str) -> None:
    """Without a unit, or no pipe."""
    with pytest.raises(UsageError, match="with a unit"):
        with_pipes(Choices(), said)


def test_days_are_a_range_with_its_reasons() -> None:
    """With K unknown the range is wide, holds the plan's own days, and says what it rests on."""
    made = plan()
    assert made.days_between is not None
    low, high = made.days_between
    assert low <= made.days <= high
    assert high > low
    told = " ".join(made.assumptions)
    for words in ("stop rule by K", "one purge", "while a test runs", "K is not known"):
        assert words in told
    assert f"({low} to {high})" in plan_html(made)


def test_a_slow_test_is_not_repeated() -> None:
    """By hand: 3 tests of 10 min are 30 min, one of 60 min is 60."""
    pace = Pace()
    quick, slow = (
        steps_for("hydraulic", pipes=0, purge_s=0, test_s=60.0 * m, pace=pace) for m in (10, 60)
    )
    assert max(s.minutes for s in quick) == 30.0
    assert max(s.minutes for s in slow) == 60.0
    assert any("too slow to repeat" in s.what for s in slow)


def test_one_purge_serves_sample_and_test() -> None:
    """The recovery after it is the first test."""
    steps = steps_for("both", pipes=0, purge_s=600, test_s=60, pace=Pace())
    assert sum("purge until" in s.what for s in steps) == 1
    assert any("recovery after purging" in s.what for s in steps)


def test_a_screened_well_has_its_own_reason() -> None:
    """Not 'other equipment', for packers divide no screen."""
    parts = [
        {"borehole": "B1", "top_m": 0.0, "bottom_m": 24.0, "kind": "casing", "diameter_mm": 52},
        {"borehole": "B1", "top_m": 24.0, "bottom_m": 30.0, "kind": "screen", "diameter_mm": 52},
    ]
    with pytest.raises(DataError) as caught:
        make_plan(module_of("unit/products/test_packer_plan.py").site(construction=parts), "B1")
    problem = caught.value.problem
    assert "a screen (24.00 to 30.00 m)" in problem.found
    assert "Use other equipment" not in problem.advice
    assert "row in intervals" in problem.advice


def test_the_record_asks_for_who_when_and_the_levels() -> None:
    """Name, date, weather, signature, and a table of time against level."""
    told = " ".join(texts(people.Shown(), draw_record))
    for words in ("Name", "Date", "Weather", "Signature", "time since start", "below the mark [m]"):
        assert words in told
    assert LINES >= 30


def test_sheets_read_in_feet_psi_and_gallons() -> None:
    """No metre, kilopascal or litre is left on the sheets of a site in US units."""
    told = [*texts(US, draw_setup), *texts(US, draw_record)]
    joined = " | ".join(told)
    for unit in (" ft", " psi", "US gal"):
        assert unit in joined
    own = [t for t in told if " kPa" in t or t.endswith((" m", " L"))]
    assert not own
    setup = plan().visits[0].setup
    assert f"{setup.top_m / 0.3048:.2f} to {setup.bottom_m / 0.3048:.2f} ft" in joined
