"""The field plan of a borehole: zones, glands, pipes, pressures, tests, purge volumes and times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from geoprofile import packers
from geoprofile.errors import DataError, UsageError
from geoprofile.holes import paths_of
from geoprofile.kits import holes_of, packers_of, spacers_of
from geoprofile.packers import (
    Choice,
    Hole,
    Inflation,
    Means,
    Pace,
    Packer,
    Profile,
    Purge,
    Purpose,
    Rules,
    SetUp,
    Spacer,
    Step,
    Tally,
    Zone,
)

if TYPE_CHECKING:
    from geoprofile.site import Site

PURPOSES: tuple[Purpose, ...] = ("hydraulic", "chemistry", "both")
Item = TypeVar("Item", Packer, Spacer)
TRIED_STEP_M = 0.25  # [m] depths at which a refusal is explained


@dataclass(frozen=True)
class Choices:
    """What the user may decide about a plan; the defaults are common practice, no source.

    `packer` and `spacer` are names; None lets the plan choose the packer that covers most and the
    open length nearest to `zone_length_m`. `avoid_m` are stretches of unsound or over-size rock,
    from core, caliper or image log. `tool_m` runs from the top of the tool to its upper seal.
    """

    packer: str | None = None
    spacer: str | None = None
    zone_length_m: float = 2.0
    overlap: float = 0.2
    apart_m: float = 0.0
    avoid_m: tuple[tuple[float, float], ...] = ()
    tool_m: float = 1.2
    pipe_m: float = 3.0
    short_pipes_m: tuple[float, ...] = (0.5, 1.0, 1.5)
    rod_diameter_m: float = 0.0
    drawdown_m: float = 5.0
    pump_m3_s: float = 5e-3 / 60.0
    longest_purge_s: float = 4 * 3600.0
    cross_flow_m3_s: float = 0.0
    open_s: float = 0.0
    rules: Rules = field(default_factory=Rules)
    means: Means = field(default_factory=Means)
    pace: Pace = field(default_factory=Pace)


@dataclass(frozen=True)
class ExpectedK:
    """K expected in a zone: median, 10 and 90 % quantile [m/s]."""

    median_m_per_s: float
    low_m_per_s: float
    high_m_per_s: float


@dataclass(frozen=True)
class Visit:
    """One set-up of the plan with all that its sheet shows.

    `rate_m3_s` is what the rock is expected to give, None where K is not known; `purge_s` is how
    long the plan purges, at most the longest allowed.
    """

    interval: str
    setup: SetUp
    inflation: Inflation
    tally: Tally
    k: ExpectedK | None
    choice: Choice
    purge: Purge
    rate_m3_s: float | None
    purge_s: float
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """The field plan of one borehole, from top to bottom.

    `untested_m` are stretches [m] of open hole that stay untested, with `reasons` in words.
    """

    site: str
    borehole: str
    purpose: Purpose
    ground_elevation_m: float
    hole: Hole
    packer: Packer
    spacer: Spacer
    visits: tuple[Visit, ...]
    untested_m: tuple[tuple[float, float], ...]
    reasons: tuple[str, ...]
    choices: Choices

    @property
    def days(self) -> int:
        """Working days that the plan takes."""
        return max((s.day for v in self.visits for s in v.steps), default=0)


def make_plan(
    site: Site, borehole: str, *, purpose: str = "both", choices: Choices | None = None
) -> Plan:
    """Plan the packer work in a borehole.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, packer, spacer, interval, water_level; the field of
        K, where there is one, tells the expected K.
    borehole : str
        Which.
    purpose : str
        "hydraulic" for a profile without a gap, "chemistry" for zones apart, "both" for zones apart
        in the order head, sample, withdrawal, injection.
    choices : Choices, optional
        Equipment, pace and margins.

    Returns
    -------
    Plan
        Depths along the hole [m].

    Raises
    ------
    DataError
        No such borehole, no equipment, or no set-up without a fault: the limit is named.
    UsageError
        No such purpose.
    """
    kept = choices or Choices()
    checked = _purpose(purpose)
    hole = _hole(site, borehole, kept)
    packer, spacer = _equipment(site, hole, kept)
    profile = _zones(hole, packer, spacer, checked, kept)
    if not profile.setups:
        raise _nothing_fits(hole, packer, spacer, kept)
    names = _interval_names(site, borehole, len(profile.setups))
    visits = [
        _visit(site, hole, setup, name, kept)
        for setup, name in zip(profile.setups, names, strict=True)
    ]
    ground = site.boreholes.set_index("borehole")["ground_elevation_m"]
    return Plan(
        site.name,
        borehole,
        checked,
        float(ground[borehole]),
        hole,
        packer,
        spacer,
        _timed(visits, checked, kept),
        profile.untested_m,
        profile.reasons,
        kept,
    )


def _purpose(purpose: str) -> Purpose:
    for known in PURPOSES:
        if purpose == known:
            return known
    raise UsageError("plan", f"purpose '{purpose}'", f"one of {', '.join(PURPOSES)}", "Choose one.")


def _hole(site: Site, borehole: str, kept: Choices) -> Hole:
    holes = holes_of(site)
    if borehole not in holes:
        raise DataError(
            "plan", f"borehole '{borehole}'", f"one of {', '.join(holes)}", "Check the name."
        )
    return replace(holes[borehole], unsound_m=kept.avoid_m)


def _equipment(site: Site, hole: Hole, kept: Choices) -> tuple[Packer, Spacer]:
    """The packer that reaches most of the hole, and the open length nearest to what is wanted."""
    spacers = _named(spacers_of(site), "spacer", kept.spacer)
    spacer = min(spacers, key=lambda s: (abs(s.open_length_m - kept.zone_length_m), s.spacer))
    found = _named(packers_of(site), "packer", kept.packer)

    def reach(packer: Packer) -> tuple[float, float]:
        stretches = packers.allowed_tops(hole, packer, spacer, rules=kept.rules)
        return sum(b - a + spacer.open_length_m for a, b in stretches), -packer.seating_pressure_pa

    return max(found, key=reach), spacer


def _named(rows: Sequence[Item], table: str, name: str | None) -> Sequence[Item]:
    """All rows, or the one that was asked for."""
    if not rows:
        raise DataError(
            "plan", f"an empty table {table}", "what is on hand", f"Load a table {table}."
        )
    names = [getattr(row, table) for row in rows]
    if name is None:
        return rows
    if name not in names:
        raise DataError(
            "plan", f"{table} '{name}'", f"one of {', '.join(names)}", "Check the name."
        )
    return [rows[names.index(name)]]


def _zones(hole: Hole, packer: Packer, spacer: Spacer, purpose: Purpose, kept: Choices) -> Profile:
    if purpose == "hydraulic":
        return packers.continuous_zones(
            hole, packer, spacer, overlap=kept.overlap, rules=kept.rules
        )
    return packers.separate_zones(hole, packer, spacer, apart_m=kept.apart_m, rules=kept.rules)


def _nothing_fits(hole: Hole, packer: Packer, spacer: Spacer, kept: Choices) -> DataError:
    """The limits that refuse the position with the fewest faults."""
    tried = [
        packers.straddle(hole, packer, spacer, top_m=float(top), rules=kept.rules)
        for top in np.arange(TRIED_STEP_M, hole.depth_m, TRIED_STEP_M)
    ]
    faults = [packers.faults(hole, setup, rules=kept.rules) for setup in tried]
    least = min(faults, key=len) if faults else ()
    found = "; ".join(least) if hole.open_sections else "no open hole in its construction"
    return DataError(
        f"plan of {hole.borehole} with {packer.packer} and {spacer.spacer}",
        f"no position without a fault, the nearest to one: {found}",
        "at least one that keeps every limit",
        "Use other equipment or another open length; never raise a maker's limit.",
    )


def _interval_names(site: Site, borehole: str, count: int) -> list[str]:
    """Names that the interval table does not have yet."""
    taken = set(site.intervals["interval"].astype(str))
    names: list[str] = []
    number = 0
    while len(names) < count:
        number += 1
        name = f"{borehole}-p{number:02d}"
        if name not in taken:
            names.append(name)
    return names


def _visit(site: Site, hole: Hole, setup: SetUp, name: str, kept: Choices) -> Visit:
    """One set-up with everything but its times."""
    packer = setup.packer
    diameter = hole.diameter(setup.top_m, setup.bottom_m)
    pipe = packer.pipe_inner_diameter_m or 2.0 * kept.means.riser_radius_m
    means = replace(kept.means, riser_radius_m=pipe / 2.0)
    column = max(hole.vertical(setup.top_m) - (hole.static_depth_m or 0.0), 0.1)
    around = packers.zone_volume(diameter, kept.rod_diameter_m, setup.length_m)
    zone = Zone(setup.length_m, diameter / 2.0, column, around)
    k = expected_k(site, hole.borehole, setup)
    choice = packers.choose_test(
        zone,
        means,
        None if k is None else k.median_m_per_s,
        k_range=() if k is None else (k.low_m_per_s, k.high_m_per_s),
    )
    purge = packers.purge_target(
        around,
        pipe_m3=packers.pipe_volume(pipe, max(setup.top_m - (hole.static_depth_m or 0.0), 0.0)),
        invaded_m3=packers.invaded_volume(kept.cross_flow_m3_s, kept.open_s),
    )
    drawdown = min(kept.drawdown_m, column)  # the level stays above the gland
    rate = None
    if k is not None:
        rate = packers.feasible_rate(
            k.median_m_per_s, setup.length_m, diameter / 2.0, drawdown_m=drawdown
        )
        rate = min(rate, kept.pump_m3_s)
    needed = kept.longest_purge_s if rate is None else purge.time_s(rate)
    inflation = packers.plan_inflation(
        packer,
        hole,
        setup.glands_m[-1][1],
        rules=kept.rules,
        shallowest_m=setup.glands_m[0][0],
    )
    tally = packers.pipe_tally(
        setup.top_m, tool_m=kept.tool_m, pipe_m=kept.pipe_m, short_pipes_m=kept.short_pipes_m
    )
    notes = (*choice.notes, *inflation.cautions, *_purge_notes(needed, kept, drawdown))
    purge_s = min(needed, kept.longest_purge_s)
    return Visit(name, setup, inflation, tally, k, choice, purge, rate, purge_s, (), notes)


def _purge_notes(needed_s: float, kept: Choices, drawdown: float) -> tuple[str, ...]:
    if needed_s <= kept.longest_purge_s:
        return ()
    return (
        f"purging to the target takes about {needed_s / 3600:.0f} h at {drawdown:.1f} m drawdown;"
        f" the plan allows {kept.longest_purge_s / 3600:.0f} h: note what was purged, and say so"
        " with the result",
    )


def expected_k(site: Site, borehole: str, setup: SetUp) -> ExpectedK | None:
    """K expected in a zone from the field of K.

    Parameters
    ----------
    site : Site
        With the field of K, or without.
    borehole : str
        Which.
    setup : SetUp
        The zone.

    Returns
    -------
    ExpectedK or None
        [m/s]; None without a field of K.
    """
    if not (site.table("field")["quantity"] == "K").any():
        return None
    from geoprofile.fields import field_of

    middle = paths_of(site)[borehole].at(np.array([0.5 * (setup.top_m + setup.bottom_m)]))
    here = field_of(site, "K").at(middle)
    return ExpectedK(float(here.median[0]), float(here.low[0]), float(here.high[0]))


def _timed(visits: Sequence[Visit], purpose: Purpose, kept: Choices) -> tuple[Visit, ...]:
    """The visits with their steps at times of the day."""
    before = 0
    zones = []
    for visit in visits:
        zones.append(
            packers.steps_for(
                purpose,
                pipes=abs(visit.tally.pipes - before),
                purge_s=visit.purge_s,
                test_s=visit.choice.stop_s,
                pace=kept.pace,
                test_name=visit.choice.method or "slug test",
            )
        )
        before = visit.tally.pipes
    timed = packers.with_times(zones, kept.pace)
    return tuple(replace(v, steps=s) for v, s in zip(visits, timed, strict=True))
