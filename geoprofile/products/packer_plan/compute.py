"""Chooses equipment and zones, and puts the plan together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from geoprofile import packers
from geoprofile.drawing.document import document_of
from geoprofile.errors import DataError, UsageError
from geoprofile.packers import Hole, Packer, Profile, Purpose, Section, Spacer
from geoprofile.packers.equipment import GRAVITY
from geoprofile.products.packer_plan.duration import assumptions, days_between, timed
from geoprofile.products.packer_plan.figure_rows import span
from geoprofile.products.packer_plan.inputs import holes_of, packers_of, spacers_of
from geoprofile.products.packer_plan.long_zones import proposals
from geoprofile.products.packer_plan.plan import Choices, Plan
from geoprofile.products.packer_plan.visits import visit_of

if TYPE_CHECKING:
    from geoprofile.site import Site

PURPOSES: tuple[Purpose, ...] = ("hydraulic", "chemistry", "both")
Item = TypeVar("Item", Packer, Spacer)
TRIED_STEP_M = 0.25  # [m] depths at which a refusal is explained


def make_plan(
    site: Site, borehole: str, *, purpose: str = "both", choices: Choices | None = None
) -> Plan:
    """Plan the packer work in a borehole.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, caliper, packer, spacer, interval, test and
        water_level; the field of K, where there is one, tells the expected K.
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
    kept = as_asked(site, choices)
    checked = purpose_of(purpose)
    hole = hole_of(site, borehole, kept)
    packer, spacer = equipment_for(site, hole, kept)
    profile = _zones(hole, packer, spacer, checked, kept)
    if not profile.setups:
        raise nothing_fits(hole, packer, spacer, kept)
    return plan_of(site, hole, packer, spacer, profile, checked, kept)


def as_asked(site: Site, choices: Choices | None) -> Choices:
    """The choices, with margins and compressibility as the site and the work demand."""
    return _as_measured(site, _with_margin(choices or Choices()))


def plan_of(
    site: Site,
    hole: Hole,
    packer: Packer,
    spacer: Spacer,
    profile: Profile,
    checked: Purpose,
    kept: Choices,
) -> Plan:
    """The plan of a profile: every set-up with pressure, pipes, test, purge and times.

    Parameters
    ----------
    site : Site
        As for `make_plan`.
    hole : Hole
        The borehole.
    packer, spacer : Packer, Spacer
        Named on the sheets.
    profile : Profile
        Set-ups, and what they leave.
    checked : Purpose
        What the plan is for.
    kept : Choices
        From `as_asked`.

    Returns
    -------
    Plan
        Depths along the hole [m].
    """
    borehole = hole.borehole
    names = _interval_names(site, borehole, len(profile.setups))
    visits = [
        visit_of(site, hole, setup, name, kept)
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
        timed(visits, checked, kept),
        profile.untested_m,
        profile.reasons,
        kept,
        ()
        if checked == "chemistry"
        else proposals(hole, packer, spacers_of(site), visits, rules=kept.rules),
        days_between=days_between(visits, checked, kept),
        assumptions=assumptions(visits, checked, kept),
        document=document_of(site),
    )


def _with_margin(choices: Choices) -> Choices:
    """The choices with a pressure difference no smaller than drawdown and test head bring."""
    head = max(choices.drawdown_m, choices.means.net_head_m)
    brought = choices.rules.density_kg_m3 * GRAVITY * head
    difference = max(choices.rules.pressure_difference_pa, brought)
    return replace(choices, rules=replace(choices.rules, pressure_difference_pa=difference))


def _as_measured(site: Site, choices: Choices) -> Choices:
    """The choices with the compressibility of shut-in strings that tests at the site found."""
    found = site.tests["system_compressibility_per_pa"].astype(float).dropna()
    if choices.means.is_measured or found.empty:
        return choices
    soft = float(found.median())
    means = replace(choices.means, pulse_compressibility_per_pa=soft, is_measured=True)
    return replace(choices, means=means)


def purpose_of(purpose: str) -> Purpose:
    """The purpose, if there is one of that name."""
    for known in PURPOSES:
        if purpose == known:
            return known
    raise UsageError("plan", f"purpose '{purpose}'", f"one of {', '.join(PURPOSES)}", "Choose one.")


def hole_of(site: Site, borehole: str, kept: Choices) -> Hole:
    """The hole with the stretches to avoid."""
    holes = holes_of(site)
    if borehole not in holes:
        raise DataError(
            "plan", f"borehole '{borehole}'", f"one of {', '.join(holes)}", "Check the name."
        )
    hole = holes[borehole]
    return replace(hole, unsound_m=(*hole.unsound_m, *kept.avoid_m))


def equipment_for(site: Site, hole: Hole, kept: Choices) -> tuple[Packer, Spacer]:
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


def nothing_fits(hole: Hole, packer: Packer, spacer: Spacer, kept: Choices) -> DataError:
    """The limits that refuse the position with the fewest faults."""
    tried = [
        packers.straddle(hole, packer, spacer, top_m=float(top), rules=kept.rules)
        for top in np.arange(TRIED_STEP_M, hole.depth_m, TRIED_STEP_M)
    ]
    faults = [packers.faults(hole, setup, rules=kept.rules) for setup in tried]
    least = min(faults, key=len) if faults else ()
    screens = [s for s in hole.sections if s.kind == "screen"]
    if screens and not hole.open_sections:
        return _screened(hole, screens)
    found = "; ".join(least) if hole.open_sections else "no open hole in its construction"
    return DataError(
        f"plan of {hole.borehole} with {packer.packer} and {spacer.spacer}",
        f"no position without a fault, the nearest to one: {found}",
        "at least one that keeps every limit",
        "Use other equipment or another open length; never raise a maker's limit.",
    )


def _screened(hole: Hole, screens: Sequence[Section]) -> DataError:
    """Why packers divide no screened well."""
    where = ", ".join(span(s.top_m, s.bottom_m) for s in screens)
    return DataError(
        f"plan of {hole.borehole}",
        f"a well with a screen ({where}) and no open hole",
        "open hole: behind a screen water passes a packer through the filter pack",
        "Take the screen as one interval: give it a row in intervals, test and sample the well as"
        " it is.",
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
