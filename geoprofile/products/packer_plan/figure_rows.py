"""What the sheet of a set-up says, row by row, with a blank for what was really done."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geoprofile.drawing import people
from geoprofile.drawing.levels import tidy
from geoprofile.drawing.people import told
from geoprofile.packers.equipment import CENTIMETRE
from geoprofile.products.packer_plan.plan import Plan, Visit


@dataclass(frozen=True)
class SheetRow:
    """One row of a sheet: what, what is planned, and whether a blank is left for what was done."""

    label: str
    planned: str
    has_blank: bool = True


@dataclass(frozen=True)
class SheetBlock:
    """Rows under one heading."""

    heading: str
    rows: tuple[SheetRow, ...]


def sheet_blocks(plan: Plan, visit: Visit) -> tuple[SheetBlock, ...]:
    """The rows of one set-up's sheet, in the order of the work."""
    blocks = [
        SheetBlock("Position, along the hole from ground", _position(visit)),
        SheetBlock("Pipes, from the tool up", _pipes(visit)),
        SheetBlock("Inflation", _inflation(plan, visit)),
        SheetBlock("Head", _head(plan)),
    ]
    if plan.purpose != "hydraulic":
        blocks.append(SheetBlock("Purge and sample", _purge(plan, visit)))
    if plan.purpose != "chemistry":
        blocks.append(SheetBlock("Hydraulic test", _test(visit)))
    return tuple(blocks)


def _position(visit: Visit) -> tuple[SheetRow, ...]:
    setup = visit.setup
    rows = [SheetRow("Zone", span(setup.top_m, setup.bottom_m))]
    names = (
        ("Upper packer element", "Lower packer element")
        if len(setup.elements_m) > 1
        else ("Element",)
    )
    rows += [
        SheetRow(name, span(top, bottom))
        for name, (top, bottom) in zip(names, setup.elements_m, strict=True)
    ]
    spacer = "none, open to the bottom" if setup.spacer is None else setup.spacer.spacer
    rows.append(SheetRow("Packer; open length", f"{setup.packer.packer}; {spacer}"))
    return tuple(rows)


def _pipes(visit: Visit) -> tuple[SheetRow, ...]:
    tally = visit.tally
    short = " + ".join(length(pipe) for pipe in tally.short_pipes_m) or "none"
    return (
        SheetRow("Tool to lower end of upper packer element", told(tally.tool_m, "m")),
        SheetRow("Pipes", f"{tally.pipes} of {length(tally.pipe_m)}"),
        SheetRow("Short pipes", short),
        SheetRow("Stick-up above ground at the mark", told(tally.stick_up_m, "m")),
    )


def _inflation(plan: Plan, visit: Visit) -> tuple[SheetRow, ...]:
    packer = visit.setup.packer
    rules = plan.choices.rules
    rock = rated = "none given: ask, not checked"
    if packer.line_rating_pa is not None:
        rated = f"{told(packer.line_rating_pa / 1e3, 'kPa', 0)}, kept"
    if rules.rock_limit_pa_per_m is not None:
        top = plan.hole.vertical(visit.setup.elements_m[0][0])
        rock = f"{told(rules.rock_limit_pa_per_m * top / 1e3, 'kPa', 0)} above water, kept"
    return (
        SheetRow(
            f"Gauge pressure, {packer.line} line", told(visit.inflation.gauge_pa / 1e3, "kPa", 0)
        ),
        SheetRow(
            "Inside the packer element",
            told(visit.inflation.inner_pa / 1e3, "kPa", 0),
            has_blank=False,
        ),
        SheetRow(
            "Never above (maker)", told(packer.max_inflation_pa / 1e3, "kPa", 0), has_blank=False
        ),
        SheetRow("Line rated for", rated, has_blank=False),
        SheetRow(
            "Across a packer element, at most", told(rules.pressure_difference_pa / 1e3, "kPa", 0)
        ),
        SheetRow("Limit of rock and casing", rock),
        SheetRow("Pressure after 10 min", "steady"),
        SheetRow("Inflated at", visit.steps[1].clock),
    )


def _head(plan: Plan) -> tuple[SheetRow, ...]:
    level = plan.hole.static_depth_m
    along = plan.hole.static_along_m
    known = "not known"
    if level is not None and along is not None:
        known = told(along, "m")
        if abs(along - level) >= CENTIMETRE:
            known += f" (vertical: {told(level, 'm')})"
    return (
        SheetRow("Static level, open hole, along the hole", known),
        SheetRow("Static level of the zone, along the hole", "wait until steady"),
    )


def _purge(plan: Plan, visit: Visit) -> tuple[SheetRow, ...]:
    purge = visit.purge
    rate = "K not known"
    if visit.rate_m3_s is not None:
        flow = people.few(visit.rate_m3_s * 6e4, "L/min")
        most = length(plan.choices.drawdown_m)
        rate = f"{flow} {people.now().unit('L/min')}, at most {most} drawdown"
    rows = [
        SheetRow("Water in the zone", told(purge.zone_m3 * 1e3, "L", 1), has_blank=False),
        SheetRow("Volume to purge", told(purge.total_m3 * 1e3, "L", 0)),
        SheetRow("Rate of pump and rock, about", rate),
        SheetRow("Time to purge, about", hours(visit.purge_s)),
        SheetRow("Steady pH, conductance, temperature, oxygen", "three readings alike"),
        SheetRow("Samples taken at, names", ""),
    ]
    if purge.invaded_m3 > 0:
        foreign = told(purge.invaded_m3 * 1e3, "L", 0)
        rows.insert(1, SheetRow("Foreign water to bring back", foreign, has_blank=False))
    return tuple(rows)


def _test(visit: Visit) -> tuple[SheetRow, ...]:
    choice = visit.choice
    expected = "not known"
    if visit.k is not None:
        k = visit.k
        span = f"{short(k.low_m_per_s, 1)} to {short(k.high_m_per_s, 1)}"
        expected = f"{short(k.median_m_per_s)} ({span}) m/s"
    duration = "not known" if choice.duration_s is None else hours(choice.duration_s)
    held = [r for r in choice.ranges if r.method == choice.method]
    reach = "none"
    if held:
        reach = f"{short(held[0].low_m_per_s, 1)} to {short(held[0].high_m_per_s, 1)} m/s"
    return (
        SheetRow("K expected", expected, has_blank=False),
        SheetRow("Test", choice.method or "no test on hand reaches this K"),
        SheetRow("Measures K from to", reach, has_blank=False),
        SheetRow("Time to 15 % of the displacement", duration),
        SheetRow("Stop at 5 %, or after", hours(choice.stop_s)),
        SheetRow("Logger interval", f"{choice.logger_s:g} s"),
        SheetRow("Displacements, first one repeated last", "two sizes, 1 : 2"),
        SheetRow("Wall cleaned before: thorough, some, none", "narrows a skin"),
        SheetRow(
            f"Outside diameter of the pipe [{people.now().unit('mm')}]",
            "for the water balance outside",
        ),
        SheetRow("Level outside the zone, at the same times", "tells a leak from K"),
    )


def span(top_m: float, bottom_m: float) -> str:
    """Two depths for people, such as `12.00 to 14.00 m`."""
    return f"{people.plain(top_m, 'm')} to {told(bottom_m, 'm')}"


def length(metres: float) -> str:
    """A length for people without zeros that say nothing, such as `3 m` or `9.84 ft`."""
    return f"{people.few(metres, 'm', 3)} {people.now().unit('m')}"


def short(value: float, digits: int = 2) -> str:
    """A number with few digits, such as `9.8e-6`."""
    return tidy(float(f"{value:.{digits}g}"))


def hours(seconds: float) -> str:
    """A duration for people [s], such as `45 s`, `12 min` or `3.5 h`."""
    if math.isinf(seconds):
        return "for ever"
    if seconds < 100:
        return f"{seconds:.0f} s"
    if seconds < 100 * 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"
