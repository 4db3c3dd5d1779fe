"""The tables that a plan leaves for what comes back: keys filled in, blank where one measures.

A row with `planned` = yes waits: `load` passes it over until something measured stands in it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from geoprofile.products.packer_plan.plan import Asked, Plan
from geoprofile.schema.inputs import DEPTH_ALONG

if TYPE_CHECKING:
    from geoprofile.site import Site

INTERVAL_COLUMNS = (
    "interval",
    "borehole",
    "top_m",
    "bottom_m",
    "isolation",
    "packer",
    "inflation_kpa",
    "set_at",
    "static_depth_m",
    "development",
    "static_depth_is",
    "remarks",
)
TEST_COLUMNS = (
    "test",
    "interval",
    "kind",
    "started_at",
    "riser_diameter_mm",
    "riser_outer_diameter_mm",
    "expected_displacement_m",
    "status",
    "remarks",
)
HOLE_COLUMNS = ("borehole", "x", "y", "ground_elevation_m", "depth_m")
BUILT_COLUMNS = ("borehole", "top_m", "bottom_m", "kind", "diameter_mm", "remarks")
LEVEL_COLUMNS = ("borehole", "measured_at", "depth_to_water_m", "depth_is", "planned")
SAMPLE_COLUMNS = ("sample", "interval", "sampled_at", "round", "kind", "medium", "planned")
RESULT_COLUMNS = ("sample", "analyte", "value", "unit", "limit", "qualifier", "planned")
STEP_COLUMNS = (
    "test",
    "step",
    "gauge_pressure_kpa",
    "flow_l_min",
    "minutes",
    "zone_head_m",
    "outside_head_m",
    "planned",
)
READING_COLUMNS = ("elapsed_s", "displacement_m")
KINDS = {
    "slug test": ("rising head", "falling head", "rising head"),
    "constant head": ("constant head",),
    "pressure pulse": ("pressure pulse", "pressure pulse"),
}
DISPLACEMENT_M = (-1.0, 0.5, -1.0)  # first size repeated last; withdrawal is below 0
PRESSURE_STEPS = 5  # up and down again, common practice, no source
WAITS = "yes"
Rows = list[dict[str, str]]


def asked_of(site: Site) -> Asked:
    """What samples of a new visit are analysed for, by what the site has.

    Parameters
    ----------
    site : Site
        Tables criterion, result and sample.

    Returns
    -------
    Asked
        Analytes with a criterion, else all found so far, each with the unit of its last result;
        the round sampled last.
    """
    results, samples = site.table("result"), site.table("sample")
    units = dict(zip(results["analyte"].astype(str), results["unit"].astype(str), strict=True))
    judged = site.table("criterion")
    judged = judged[judged["medium"].isna() | (judged["medium"] == "water")]
    usual = dict(zip(judged["analyte"].astype(str), judged["unit"].astype(str), strict=True))
    names = sorted(usual) or sorted(units)
    dated = samples[samples["round"].notna()].sort_values("sampled_at")
    last = "" if dated.empty else str(dated["round"].iloc[-1])
    return Asked(tuple((name, units.get(name, usual.get(name, "ug/L"))) for name in names), last)


def blanks_of(plan: Plan) -> dict[str, str]:
    """Every table that a plan leaves, by the name of its file.

    Parameters
    ----------
    plan : Plan
        From `make_plan`.

    Returns
    -------
    dict of str to str
        CSV texts: intervals, and as the plan needs them boreholes, construction, tests, readings,
        pressure_steps, samples and results; the water level of the hole.
    """
    files = {"intervals.csv": _csv(INTERVAL_COLUMNS, _intervals(plan))}
    if plan.new_hole is not None:
        files["boreholes.csv"] = _csv(HOLE_COLUMNS, _hole(plan))
        files["construction.csv"] = _csv(BUILT_COLUMNS, _built(plan))
    level = {"borehole": plan.borehole, "depth_is": DEPTH_ALONG, "planned": WAITS}
    files["water_levels.csv"] = _csv(LEVEL_COLUMNS, [level])
    if plan.purpose != "chemistry":
        tests = _tests(plan)
        files["tests.csv"] = _csv(TEST_COLUMNS, tests)
        injections = [t["test"] for t in tests if t["kind"] == "constant head"]
        if injections:
            files["pressure_steps.csv"] = _csv(STEP_COLUMNS, _steps(injections))
        for test in tests:
            if test["test"] not in injections:
                files[f"readings/{test['test']}.csv"] = _csv(READING_COLUMNS, [])
    if plan.purpose != "hydraulic" and plan.asked.analytes:
        files["samples.csv"] = _csv(SAMPLE_COLUMNS, _samples(plan))
        files["results.csv"] = _csv(RESULT_COLUMNS, _results(plan))
    return files


def _hole(plan: Plan) -> Rows:
    hole = plan.new_hole
    if hole is None:
        return []
    return [
        {
            "borehole": hole.name,
            "x": f"{hole.x_m:.2f}",
            "y": f"{hole.y_m:.2f}",
            "ground_elevation_m": f"{hole.ground_elevation_m:.2f}",
            "depth_m": f"{hole.depth_m:.2f}",
        }
    ]


def _built(plan: Plan) -> Rows:
    parts = () if plan.new_hole is None else plan.new_hole.construction
    return [
        {
            "borehole": plan.borehole,
            "top_m": f"{part['top_m']:.2f}",
            "bottom_m": f"{part['bottom_m']:.2f}",
            "kind": str(part["kind"]),
            "diameter_mm": f"{part['diameter_mm']:g}",
            "remarks": "planned; correct what was built otherwise",
        }
        for part in parts
    ]


def _intervals(plan: Plan) -> Rows:
    """What was planned, with blanks for what the crew fills in."""
    return [
        {
            "interval": v.interval,
            "borehole": plan.borehole,
            "top_m": f"{v.setup.top_m:.2f}",
            "bottom_m": f"{v.setup.bottom_m:.2f}",
            "isolation": v.setup.isolation,
            "packer": v.setup.packer.packer,
            "inflation_kpa": f"{v.inflation.gauge_pa / 1e3:.0f}",
            "static_depth_is": DEPTH_ALONG,
            "remarks": "planned",
        }
        for v in plan.visits
    ]


def _tests(plan: Plan) -> Rows:
    """Planned tests, which count as soon as their readings are there."""
    rows: Rows = []
    for visit in plan.visits:
        kinds = KINDS.get(visit.choice.method or "", ())
        pipe = visit.setup.packer.pipe_inner_diameter_m
        for letter, kind, height in zip("abc", kinds, DISPLACEMENT_M, strict=False):
            rows.append(
                {
                    "test": f"{visit.interval}-{letter}",
                    "interval": visit.interval,
                    "kind": kind,
                    "riser_diameter_mm": "" if pipe is None else f"{1e3 * pipe:g}",
                    "expected_displacement_m": "" if kind == "constant head" else f"{height:g}",
                    "status": "planned",
                    "remarks": "planned; counts as soon as its readings are loaded",
                }
            )
    return rows


def _steps(tests: Sequence[str]) -> Rows:
    numbers = range(1, PRESSURE_STEPS + 1)
    return [{"test": t, "step": str(k), "planned": WAITS} for t in tests for k in numbers]


def _sample(interval: str) -> str:
    return f"{interval}-w"


def _samples(plan: Plan) -> Rows:
    return [
        {
            "sample": _sample(v.interval),
            "interval": v.interval,
            "round": plan.asked.round,
            "kind": "primary",
            "medium": "water",
            "planned": WAITS,
        }
        for v in plan.visits
    ]


def _results(plan: Plan) -> Rows:
    return [
        {"sample": _sample(v.interval), "analyte": analyte, "unit": unit, "planned": WAITS}
        for v in plan.visits
        for analyte, unit in plan.asked.analytes
    ]


def _csv(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> str:
    """Rows as CSV with a heading."""
    target = io.StringIO()
    writer = csv.DictWriter(target, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return target.getvalue()
