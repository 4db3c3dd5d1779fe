"""Rows of what stands behind the K of a test: its budget, its pressure steps, why its method."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.engine.rows import finding, joined
from geoprofile.hydraulics.tests import Conductivity, HydraulicTest, TestAnalysis
from geoprofile.hydraulics.water import GRAVITY, density

Place = Mapping[str, Any]
OTHER_KIND = "made for "  # a method of another kind of test says nothing about this one


def budget_rows(place: Place, analysis: TestAnalysis) -> list[dict[str, Any]]:
    """Inputs of the K of one test, the largest first; their variances sum to that of log10 K.

    Parameters
    ----------
    place : Mapping
        Columns of the interval.
    analysis : TestAnalysis
        With its preferred result.

    Returns
    -------
    list of dict
        Rows of `conductivity_budget`; none without a K.
    """
    best = analysis.best
    if best is None:
        return []
    ten = math.log(10.0)
    whole = sum(part.sd_ln**2 for part in best.parts) or 1.0
    ordered = sorted(best.parts, key=lambda part: -part.sd_ln)
    return [
        {
            **{name: place[name] for name in ("interval", "borehole")},
            "test": analysis.test,
            "input": part.name,
            "estimate": part.estimate,
            "unit": part.unit,
            "standard_uncertainty": part.standard_uncertainty,
            "distribution": part.distribution,
            "sensitivity": part.sensitivity / ten,
            "contribution_log10": part.sd_ln / ten,
            "share": part.sd_ln**2 / whole,
        }
        for part in ordered
        if part.sd_ln > 0
    ]


def step_rows(place: Place, test: HydraulicTest, analysis: TestAnalysis) -> list[dict[str, Any]]:
    """Pressure steps of one constant-head test with their Lugeon values."""
    result = _stepped(analysis)
    if result is None:
        return []
    warm = 10.0 if test.water_temperature_c is None else test.water_temperature_c
    weight = density(warm) * GRAVITY / 1e3
    return [
        {
            **place,
            "test": analysis.test,
            "step": step.step,
            "flow_l_min": 60_000.0 * float(result.time_s[i]),
            "net_head_m": float(result.measured[i]),
            "net_pressure_kpa": weight * float(result.measured[i]),
            "pipe_loss_m": float(result.step_loss_m[i]),
            "lugeon": float(result.step_lugeon[i]),
            "representative": bool(result.used[i]),
        }
        for i, step in enumerate(test.pressure_steps)
    ]


def _stepped(analysis: TestAnalysis) -> Conductivity | None:
    """The result that has Lugeon values, the preferred one first."""
    ordered = sorted(analysis.results, key=lambda r: r is not analysis.best)
    return next((r for r in ordered if r.step_lugeon.size), None)


def lugeon_columns(analysis: TestAnalysis) -> dict[str, Any]:
    """Representative Lugeon value and pattern of one test; nothing where there are no steps."""
    result = _stepped(analysis)
    return {} if result is None else {"lugeon": result.lugeon, "pattern": result.pattern}


def reasons(analysis: TestAnalysis) -> dict[str, str | None]:
    """Why the preferred method won and why others of its kind were refused."""
    refused = [
        f"{n}: {why}" for n, why in analysis.not_applicable if not why.startswith(OTHER_KIND)
    ]
    return {"chosen_because": analysis.reason, "refused": joined(refused)}


def unread_outside(tests: Sequence[HydraulicTest]) -> list[dict[str, str]]:
    """One finding for a whole site about elements behind which nobody looked."""
    sealed = [t for t in tests if t.isolation in ("straddle", "below packer", "above packer")]
    bare = [t for t in sealed if not _looked(t)]
    if not bare:
        return []
    return [
        finding(
            "test",
            "all",
            f"bypass not checked: no pressure was read outside the zone in {len(bare)} of "
            f"{len(sealed)} tests behind packers; their intervals hold the chance of a leak",
            what_to_do="Read the level outside the zone in the next tests.",
            severity="note",
        )
    ]


def _looked(test: HydraulicTest) -> bool:
    if test.outside_displacement_m is not None:
        return True
    return any(step.outside_head_m is not None for step in test.pressure_steps)
