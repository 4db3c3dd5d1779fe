"""What a report of a hydraulic test holds by the published scope of ISO 22282, and what is missing.

ISO 22282:2012, Geohydraulic testing: part 1 (general rules), 2 (permeability tests in a borehole
using open systems), 3 (water pressure tests in rock), 6 (closed systems). The parts are named, not
quoted; the list is from memory of their scope and is to be checked against the standard.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, listed
from geoprofile.report.tables import field, table

TEXT = (
    "<p>What is recorded of each test, beside what a test report holds by the published scope of "
    "ISO 22282:2012. The parts are named, not quoted: this list was written <strong>from memory "
    "and is to be checked against the standard</strong> by whoever signs. Operator, weather and "
    "calibration papers have no place in the tables and are not looked for.</p>"
)
OPEN, PRESSURE, CLOSED = "2 (open systems)", "3 (water pressure in rock)", "6 (closed systems)"
PART_OF = {
    "falling head": OPEN,
    "rising head": OPEN,
    "constant head": PRESSURE,
    "pressure pulse": CLOSED,
}
GENERAL = "1 (general rules)"
MOST_NAMES = 12
STEPS = 5  # up and down again: common practice


@dataclass(frozen=True)
class Facts:
    """All that is recorded of one test: its rows in the tables that name it."""

    test: Row
    zone: Row
    hole: Row
    steps: tuple[Row, ...]
    readings: bool
    fitted: Row
    built: bool
    logged: bool
    equipped: bool


@dataclass(frozen=True)
class Item:
    """A thing that a report holds, the part that asks for it, and whether it is there."""

    part: str
    what: str
    is_there: Callable[[Facts], bool]


def _has(row: Row, *names: str) -> bool:
    return all(row.get(n) not in (None, "") for n in names)


ITEMS = (
    Item(GENERAL, "coordinates and elevation of the hole", lambda f: _has(f.hole, "x", "y")),
    Item(GENERAL, "date of the test", lambda f: _has(f.test, "started_at")),
    Item(GENERAL, "depths of the test section", lambda f: _has(f.zone, "top_m", "bottom_m")),
    Item(GENERAL, "diameter and casing of the hole", lambda f: f.built),
    Item(GENERAL, "ground of the test section", lambda f: f.logged),
    Item(GENERAL, "groundwater level before the test", lambda f: _has(f.zone, "static_depth_m")),
    Item(GENERAL, "temperature of the water", lambda f: _has(f.test, "water_temperature_c")),
    Item(GENERAL, "cleaning of the hole before the test", lambda f: _has(f.zone, "development")),
    Item(GENERAL, "method of evaluation and its result", lambda f: _has(f.fitted, "k_m_per_s")),
    Item(OPEN, "bore of the pipe", lambda f: _has(f.test, "riser_diameter_mm")),
    Item(OPEN, "displacement meant", lambda f: _has(f.test, "expected_displacement_m")),
    Item(OPEN, "level against time", lambda f: f.readings),
    Item(PRESSURE, "packer and its limits", lambda f: f.equipped),
    Item(PRESSURE, "inflation pressure", lambda f: _has(f.zone, "inflation_kpa")),
    Item(PRESSURE, "pressure steps up and down again", lambda f: len(f.steps) >= STEPS),
    Item(PRESSURE, "flow and duration of every step", lambda f: _all(f, "flow_l_min", "minutes")),
    Item(PRESSURE, "pressure of every step", lambda f: _pressures(f)),
    Item(PRESSURE, "height of the gauge", lambda f: _in_zone(f) or _all(f, "gauge_height_m")),
    Item(PRESSURE, "test of leaks in blank casing", lambda f: _has(f.test, "blank_leak_l_min")),
    Item(CLOSED, "volume shut in", lambda f: _has(f.test, "shut_in_volume_l")),
    Item(
        CLOSED,
        "compressibility of the system",
        lambda f: (
            _has(f.test, "system_compressibility_per_pa")
            or _has(f.test, "timed_injection_l", "timed_injection_rise_kpa")
        ),
    ),
    Item(CLOSED, "inflation pressure", lambda f: _has(f.zone, "inflation_kpa")),
    Item(CLOSED, "pressure against time", lambda f: f.readings),
)


def _all(facts: Facts, *names: str) -> bool:
    return bool(facts.steps) and all(_has(s, *names) for s in facts.steps)


def _in_zone(facts: Facts) -> bool:
    return _all(facts, "zone_head_m")


def _pressures(facts: Facts) -> bool:
    return _in_zone(facts) or _all(facts, "gauge_pressure_kpa")


def missing(facts: Facts) -> tuple[int, dict[str, list[str]]]:
    """How many things are asked of a test, and those that are missing, by part."""
    asked = [i for i in ITEMS if i.part in (GENERAL, PART_OF.get(str(facts.test["kind"])))]
    found: dict[str, list[str]] = {}
    for item in asked:
        if not item.is_there(facts):
            found.setdefault(item.part, []).append(item.what)
    return len(asked), found


def completeness(content: Content) -> str:
    """A row for all tests with the same record: how much is there, and what is missing."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for facts in _facts(content):
        asked, lost = missing(facts)
        part = f"1 and {PART_OF.get(str(facts.test['kind']), '-')}"
        there = f"{asked - sum(map(len, lost.values()))} of {asked}"
        words = "; ".join(f"part {p}: {', '.join(w)}" for p, w in lost.items()) or "nothing"
        alike.setdefault((part, there, words), []).append(str(facts.test["test"]))
    rows = [
        {"tests": _named(names), "part": part, "recorded": there, "lost": words}
        for (part, there, words), names in alike.items()
    ]
    columns = [
        field("Tests", "tests"),
        field("Parts of ISO 22282", "part"),
        field("Recorded", "recorded"),
        field("Missing", "lost"),
    ]
    often = _often(rows)
    said = f"<p>Missing from every test:</p>{listed(map(escaped, often))}" if often else ""
    return TEXT + said + table("Completeness of tests", columns, rows)


def _named(names: list[str]) -> str:
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return ", ".join(names[:MOST_NAMES]) + more


def _often(rows: list[dict[str, str]]) -> list[str]:
    """Things that no test has."""
    every = [i.what for i in ITEMS if rows and all(i.what in r["lost"] for r in rows)]
    return list(dict.fromkeys(every))


def _facts(content: Content) -> list[Facts]:
    zones = {str(r["interval"]): r for r in content.rows("interval")}
    holes = {str(r["borehole"]): r for r in content.rows("borehole")}
    packers = {str(r["packer"]) for r in content.rows("packer")}
    built = {str(r["borehole"]) for r in content.rows("construction")}
    fitted = {str(r["test"]): r for r in content.rows("conductivity") if r["preferred"]}
    read = {str(r["test"]) for r in content.rows("reading")}
    found = []
    for test in content.rows("test"):
        if test["status"] not in (None, "", "use"):
            continue
        zone = zones.get(str(test["interval"]), {})
        hole, name = str(zone.get("borehole")), str(test["test"])
        found.append(
            Facts(
                test,
                zone,
                holes.get(hole, {}),
                tuple(s for s in content.rows("pressure_step") if str(s["test"]) == name),
                name in read,
                fitted.get(name, {}),
                hole in built,
                _logged(content, hole, zone),
                str(zone.get("packer")) in packers,
            )
        )
    return found


def _logged(content: Content, hole: str, zone: Row) -> bool:
    """Whether a logged unit reaches into the test section."""
    top, bottom = zone.get("top_m"), zone.get("bottom_m")
    if top is None or bottom is None:
        return False
    return any(
        str(r["borehole"]) == hole and r["top_m"] < bottom and (r["bottom_m"] or 1e9) > top
        for r in content.rows("lithology")
        if r["top_m"] is not None
    )
