"""Inflation pressure of a packer element, its refusals and cautions."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import pytest

from geoprofile.packers import Hole, Packer, Rules, Section, plan_inflation, pressure_at_element

PACKER = Packer("P1", 0.070, 0.076, 0.110, 1.0, 350e3, 1500e3)
HOLE = Hole("B1", 60.0, (Section(0.0, 60.0, 0.096),), static_depth_m=12.4)
RULES = Rules(pressure_difference_pa=330e3)


def test_dry_element_has_no_water_pressure() -> None:
    """Above the water the pressure outside is 0, never below."""
    assert pressure_at_element(5.0, 12.4) == 0.0


def test_gas_and_inner_pressure_agree() -> None:
    """A gas line shows the pressure inside the packer element."""
    plan = plan_inflation(PACKER, HOLE, 46.0, rules=RULES)
    assert plan.gauge_pa == plan.inner_pa == pytest.approx(1108.4e3, abs=50)
    assert not plan.refusals


def test_refusal_names_the_limit() -> None:
    """Too much pressure is refused with the limiting number."""
    plan = plan_inflation(replace(PACKER, max_inflation_pa=1000e3), HOLE, 46.0, rules=RULES)
    assert "1108 kPa" in plan.refusals[0]
    assert "1000 kPa" in plan.refusals[0]


@pytest.mark.parametrize(("line", "bears"), [("gas", "1108"), ("water", "779")])
def test_rating_of_the_line_is_kept(line: Literal["gas", "water"], bears: str) -> None:
    """Gas brings all of 1108.4 kPa to the gauge; of water the line bears 779 kPa at the packer
    element.

    329.4 kPa of water outside, 350 to seat, 1.3 times 330 across: hydrostatics.
    """
    weak = replace(PACKER, line=line, line_rating_pa=770e3)
    plan = plan_inflation(weak, HOLE, 46.0, rules=RULES)
    assert f"{bears} kPa on the inflation line" in plan.refusals[0]
    strong = replace(weak, line_rating_pa=1109e3)
    assert not plan_inflation(strong, HOLE, 46.0, rules=RULES).refusals


def test_rock_limit_is_refused_with_its_number() -> None:
    """Inner pressure above hydrostatic beyond the limit of the rock is refused."""
    rules = replace(RULES, rock_limit_pa_per_m=10e3)
    plan = plan_inflation(PACKER, HOLE, 46.0, rules=rules)
    assert "460 kPa" in plan.refusals[0]


def test_water_line_warns_that_it_may_not_deflate() -> None:
    """Deep static level: the column left in the line exceeds what empties the packer element."""
    hole = replace(HOLE, static_depth_m=40.0)
    plan = plan_inflation(replace(PACKER, line="water"), hole, 46.0, rules=RULES)
    assert "may not deflate" in plan.cautions[0]


def test_unknown_static_level_counts_as_ground() -> None:
    """Without a level the plan takes the safe side and says so."""
    plan = plan_inflation(PACKER, replace(HOLE, static_depth_m=None), 46.0, rules=RULES)
    assert plan.at_element_pa == pytest.approx(999.7 * 9.80665 * 46)
    assert "not known" in plan.cautions[0]


def test_column_that_over_inflates_is_told() -> None:
    """A column that alone gives more than is needed is a caution, and the gauge shows 0."""
    hole = replace(HOLE, static_depth_m=50.0)
    packer = replace(PACKER, line="water", seating_pressure_pa=50e3)
    plan = plan_inflation(packer, hole, 55.0, rules=replace(RULES, pressure_difference_pa=10e3))
    assert plan.gauge_pa == 0.0
    assert "over-inflates" in plan.cautions[-1]


def test_inclined_hole_uses_vertical_depth() -> None:
    """At 60 degrees from vertical the water pressure is half that of the length."""
    hole = replace(HOLE, along_m=(0.0, 60.0), vertical_m=(0.0, 30.0), static_depth_m=0.0)
    plan = plan_inflation(PACKER, hole, 40.0, rules=RULES)
    assert plan.at_element_pa == pytest.approx(999.7 * 9.80665 * 20)
