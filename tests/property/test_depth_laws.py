"""A water level has one meaning, whichever way it was measured and however the hole leans."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.errors import DataError
from geoprofile.geometry import along_hole, below_ground, trajectory
from geoprofile.packers import Packer, Rules, Spacer, pipe_volume, plan_inflation, straddle
from geoprofile.plugins import no_progress
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.conductivity.inputs import hydraulic_tests
from geoprofile.products.heads.head import compute
from geoprofile.products.packer_plan.compute import make_plan
from geoprofile.products.packer_plan.inputs import holes_of
from geoprofile.products.packer_plan.plan import Choices
from geoprofile.products.packer_plan.visits import visit_of
from geoprofile.schema import TABLES
from geoprofile.site import Site

GROUND_M, LENGTH_M = 100.0, 120.0
PACKER = Packer("P1", 0.056, 0.07, 0.13, 1.0, 300e3, 3000e3, pipe_inner_diameter_m=0.038)
leans = st.floats(0.0, 75.0)
levels = st.floats(0.5, 25.0)
WAYS = ("along the hole", "vertical", None)


def site_of(lean_deg: float, later_deg: float, tables: dict[str, list[dict[str, object]]]) -> Site:
    """One hole that leans, and leans otherwise from 60 m on; ground at 100 m."""
    turn = 40.0 if lean_deg == later_deg else 60.0
    given_rows: dict[str, list[dict[str, object]]] = {
        "borehole": [
            {
                "borehole": "B1",
                "x": 0.0,
                "y": 0.0,
                "ground_elevation_m": GROUND_M,
                "depth_m": LENGTH_M,
            }
        ],
        "survey": [
            {"borehole": "B1", "depth_m": 0.0, "inclination_deg": lean_deg, "azimuth_deg": 40.0},
            {"borehole": "B1", "depth_m": 60.0, "inclination_deg": later_deg, "azimuth_deg": turn},
        ],
        "construction": [
            {"borehole": "B1", "top_m": 0.0, "bottom_m": 2.0, "kind": "casing", "diameter_mm": 110},
            {
                "borehole": "B1",
                "top_m": 2.0,
                "bottom_m": LENGTH_M,
                "kind": "open hole",
                "diameter_mm": 96,
            },
        ],
        **tables,
    }
    frames = {
        name: pd.DataFrame(given_rows.get(name, []), columns=[c.name for c in table.columns])
        for name, table in TABLES.items()
    }
    return Site("made up", "EPSG:32632", "", {}, frames)


def level_rows(
    lean_deg: float, later_deg: float, vertical_m: float, table: str, way: str | None
) -> dict[str, list[dict[str, object]]]:
    """One level, written in one way, in one table."""
    path = paths_of(site_of(lean_deg, later_deg, {}))["B1"]
    along = below_ground(path, vertical_m).along_m
    usual = "along the hole" if table == "water_level" else "vertical"
    written = along if (way or usual) == "along the hole" else vertical_m
    if table == "water_level":
        return {
            table: [
                {
                    "borehole": "B1",
                    "measured_at": "2026-05-01T10:00:00Z",
                    "depth_to_water_m": written,
                    "depth_is": way,
                }
            ]
        }
    return {
        table: [
            {
                "interval": "B1-1",
                "borehole": "B1",
                "top_m": along + 5,
                "bottom_m": along + 7,
                "isolation": "straddle",
                "static_depth_m": written,
                "static_depth_is": way,
            }
        ]
    }


@settings(max_examples=25, deadline=None)
@given(leans, leans, st.floats(0.1, 118.0))
def test_the_three_ways_of_a_depth_agree(lean: float, later: float, along_m: float) -> None:
    """Along the hole to vertical and back again is the same place."""
    path = trajectory((0, 0, GROUND_M), LENGTH_M, ([0, 60], [lean, later], [40, 60]))
    there = along_hole(path, along_m)
    back = below_ground(path, there.vertical_m)
    assert there.elevation_m == pytest.approx(GROUND_M - there.vertical_m, abs=1e-9)
    assert back.along_m == pytest.approx(along_m, abs=1e-5)
    assert there.elevation_m == pytest.approx(path.at([along_m])[0, 2], abs=1e-9)


@settings(max_examples=12, deadline=None)
@given(leans, leans, levels, st.sampled_from(("water_level", "interval")), st.sampled_from(WAYS))
def test_heads_are_those_of_the_vertical_twin(
    lean: float, later: float, vertical_m: float, table: str, way: str | None
) -> None:
    """The head is the elevation of the water, however it was measured."""
    site = site_of(lean, later, level_rows(lean, later, vertical_m, table, way))
    head = compute(site, {}, no_progress)["head"]
    assert head["head_m"].to_list() == pytest.approx([GROUND_M - vertical_m], abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(leans, leans, levels, st.sampled_from(("water_level", "interval")), st.sampled_from(WAYS))
def test_pressure_and_purge_are_those_of_the_water_really_there(
    lean: float, later: float, vertical_m: float, table: str, way: str | None
) -> None:
    """Outside pressure from the vertical depth below water, water in the pipe along the hole."""
    site = site_of(lean, later, level_rows(lean, later, vertical_m, table, way))
    hole, path = holes_of(site)["B1"], paths_of(site)["B1"]
    water_along = below_ground(path, vertical_m).along_m
    top = min(water_along + 10.0, LENGTH_M - 5.0)
    setup = straddle(hole, PACKER, Spacer("2 m", 2.0), top_m=top)
    lowest = setup.elements_m[-1][1]
    twin = plan_inflation(PACKER, hole, lowest, rules=Rules()).at_element_pa
    under = float(path.vertical_depth([lowest])[0]) - vertical_m
    assert twin == pytest.approx(999.7 * 9.80665 * max(under, 0.0), abs=200)  # 2 cm of water
    visit = visit_of(site, hole, setup, "B1-p01", Choices())
    in_pipe = max(setup.top_m - water_along, 0.0)
    assert visit.purge.pipe_m3 == pytest.approx(pipe_volume(0.038, in_pipe), abs=3e-5)


@settings(max_examples=12, deadline=None)
@given(leans, levels, st.floats(-2.0, 2.0), st.sampled_from(WAYS))
def test_vertical_gradients_are_those_of_the_vertical_twin(
    lean: float, vertical_m: float, change_m: float, way: str | None
) -> None:
    """Two zones of one hole: the difference of their heads over the height between them."""
    path = paths_of(site_of(lean, lean, {}))["B1"]
    rows = []
    for k, level in enumerate((vertical_m, vertical_m + 2.0 + change_m)):
        along = below_ground(path, level).along_m
        rows.append(
            {
                "interval": f"B1-{k}",
                "borehole": "B1",
                "top_m": 98.0 + 10.0 * k,
                "bottom_m": 100.0 + 10.0 * k,
                "isolation": "straddle",
                "set_at": "2026-05-01T10:00:00Z",
                "static_depth_m": along if way == "along the hole" else level,
                "static_depth_is": way,
            }
        )
    head = compute(site_of(lean, lean, {"interval": rows}), {}, no_progress)["head"]
    gradient = head["vertical_gradient"].dropna().to_list()
    height = 10.0 * np.cos(np.radians(lean))
    assert gradient == pytest.approx([-(2.0 + change_m) / height], abs=1e-4 / height)


SEATED_PA = 365e3  # [Pa] to seat 300 kPa, and 1.3 times 50 kPa of margin
EQUIPMENT: dict[str, list[dict[str, object]]] = {
    "packer": [
        {
            "packer": "P1",
            "deflated_diameter_mm": 72.0,
            "min_hole_mm": 76.0,
            "max_hole_mm": 122.0,
            "element_length_m": 1.0,
            "seating_pressure_kpa": 300.0,
            "max_inflation_kpa": 4000.0,
            "pipe_inner_diameter_mm": 38.0,
            "gas_or_water": "water",
        }
    ],
    "spacer": [{"spacer": "S", "open_length_m": 2.0}],
}


@pytest.mark.parametrize(
    ("lean", "vertical_m", "table"), [(35.0, 12.5, "water_level"), (66.0, 4.0, "interval")]
)
def test_the_plan_is_that_of_the_vertical_twin(lean: float, vertical_m: float, table: str) -> None:
    """Set-ups as in an upright hole with its water as far along; pressures less by the lean."""
    usual = "along the hole" if table == "water_level" else "vertical"
    plans = []
    for way in ("along the hole", "vertical"):
        rows = level_rows(lean, lean, vertical_m, table, way)
        plans.append(
            make_plan(site_of(lean, lean, {**EQUIPMENT, **rows}), "B1", purpose="chemistry")
        )
    along = below_ground(paths_of(site_of(lean, lean, {}))["B1"], vertical_m).along_m
    upright = level_rows(0.0, 0.0, along, table, usual)
    twin = make_plan(site_of(0.0, 0.0, {**EQUIPMENT, **upright}), "B1", purpose="chemistry")
    for plan in plans:
        places = [v.setup.elements_m for v in plan.visits]
        assert len(places) > 5
        np.testing.assert_allclose(places, [v.setup.elements_m for v in twin.visits], atol=1e-3)
        np.testing.assert_allclose(plan.untested_m, twin.untested_m, atol=1e-3)
        assert plan.visits[0].setup.top_m < along + 9.0  # no good hole is lost above
        for mine, theirs in zip(plan.visits, twin.visits, strict=True):
            outside = (theirs.setup.inner_pressure_pa - SEATED_PA) * np.cos(np.radians(lean))
            inner = outside + SEATED_PA
            assert mine.setup.inner_pressure_pa == pytest.approx(inner, abs=100)
            assert mine.purge.pipe_m3 == pytest.approx(theirs.purge.pipe_m3, abs=3e-5)


def test_no_hole_is_lost_below_a_level_dipped_along_it() -> None:
    """Water 40 m along a hole at 60 degrees: the real plan has zones from 40 m on, not from 80."""
    for way in ("along the hole", "vertical"):
        rows = level_rows(60.0, 60.0, 20.0, "water_level", way)
        plan = make_plan(site_of(60.0, 60.0, {**EQUIPMENT, **rows}), "B1", purpose="hydraulic")
        assert 40.0 <= plan.visits[0].setup.top_m < 44.0
        reasons = " ".join(plan.reasons)
        stretches = [top for top, bottom in plan.untested_m if bottom > 45.0 and top < 115.0]
        assert not stretches, (plan.untested_m, reasons)


def test_the_hole_at_sixty_degrees() -> None:
    """Water 40 m along a hole at 60 degrees from vertical stands 20 m under ground (cos 60 = 1/2).

    The lower packer element of the zone from 80 to 82 m ends at 83 m along, 41.5 m under ground:
    it bears 999.7 x 9.80665 x 21.5 = 210.8 kPa of water. With the level taken as
    40 m vertical it would be 14.7 kPa, 196 kPa less.
    """
    for table in ("water_level", "interval"):
        for way in WAYS:
            site = site_of(60.0, 60.0, level_rows(60.0, 60.0, 20.0, table, way))
            hole = holes_of(site)["B1"]
            assert hole.static_depth_m == pytest.approx(20.0, abs=1e-6)
            assert hole.static_along_m == pytest.approx(40.0, abs=1e-6)
            inflation = plan_inflation(PACKER, hole, 83.0, rules=Rules())
            assert inflation.at_element_pa == pytest.approx(210.8e3, abs=100)
            # margin 1.3 on 50 kPa above seating at 300 kPa: common practice, no source
            assert inflation.inner_pa == pytest.approx(210.8e3 + 300e3 + 65e3, abs=100)
            # three times the 14.5 L of 2 m of 96 mm hole; no water stands in the pipe above it
            setup = straddle(hole, PACKER, Spacer("2 m", 2.0), top_m=40.0)
            purge = visit_of(site, hole, setup, "B1-p01", Choices()).purge
            assert 1e3 * purge.total_m3 == pytest.approx(43.5, abs=0.3)


def test_a_flat_stretch_costs_no_test() -> None:
    """A hole driven flat keeps its tests: the pipe above its water is upright, and names stay."""
    tables: dict[str, list[dict[str, object]]] = {
        "interval": [
            {
                "interval": "HOR-1",
                "borehole": "B1",
                "top_m": 64.0,
                "bottom_m": 66.0,
                "isolation": "straddle",
                "static_depth_m": -3.0,
            }
        ],
        "test": [
            {
                "test": "HOR-1a",
                "interval": "HOR-1",
                "kind": "falling head",
                "riser_diameter_mm": 38.0,
                "status": "use",
            }
        ],
    }
    for static in (-3.0, 2.0):
        tables["interval"][0]["static_depth_m"] = static
        [(_, test)] = hydraulic_tests(site_of(90.0, 90.0, tables))
        assert not isinstance(test, DataError)
        assert test.riser_radius_m == pytest.approx(0.019)
        assert np.isfinite(test.riser_radius_m)
        assert test.where == "test HOR-1a (B1, 64-66 m)"
