"""Set-ups: where in a hole the packers on hand can isolate a zone, and why not elsewhere."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, TypeAlias

from geoprofile.packers.equipment import Hole, Packer, Rules, Section, SetUp, Spacer
from geoprofile.packers.inflation import plan_inflation

TINY = 1e-6  # [m] far below what a tape reads
Kind: TypeAlias = Literal[
    "length",
    "open",
    "water",
    "ends",
    "diameter",
    "caliper",
    "unsound",
    "passing",
    "depth",
    "submergence",
    "pressure",
]
Fault: TypeAlias = tuple[Kind, str]


def straddle(
    hole: Hole, packer: Packer, spacer: Spacer, *, top_m: float, rules: Rules | None = None
) -> SetUp:
    """The set-up with one packer above and one below an open length.

    Parameters
    ----------
    hole, packer, spacer : Hole, Packer, Spacer [-]
        Where and with what.
    top_m : float [m]
        Depth along the hole of the top of the zone.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    SetUp [m, Pa]
        Not yet checked: ask `faults`.

    References
    ----------
    Common practice, no source.
    """
    bottom = top_m + spacer.open_length_m
    upper = (top_m - packer.element_length_m, top_m)
    lower = (bottom, bottom + packer.element_length_m)
    inflation = plan_inflation(packer, hole, lower[1], rules=rules or Rules())
    return SetUp(
        hole.borehole,
        "straddle",
        top_m,
        bottom,
        packer,
        spacer,
        (upper, lower),
        inflation.inner_pa,
        inflation.gauge_pa,
    )


def single(hole: Hole, packer: Packer, *, top_m: float, rules: Rules | None = None) -> SetUp:
    """The set-up with one packer above the bottom of the hole.

    Parameters
    ----------
    hole, packer : Hole, Packer [-]
        Where and with what.
    top_m : float [m]
        Depth along the hole of the top of the zone, which runs to the bottom of the hole.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    SetUp [m, Pa]
        Not yet checked: ask `faults`.

    References
    ----------
    Common practice, no source.
    """
    element = (top_m - packer.element_length_m, top_m)
    inflation = plan_inflation(packer, hole, top_m, rules=rules or Rules())
    return SetUp(
        hole.borehole,
        "below packer",
        top_m,
        hole.depth_m,
        packer,
        None,
        (element,),
        inflation.inner_pa,
        inflation.gauge_pa,
    )


def faults(hole: Hole, setup: SetUp, *, rules: Rules | None = None) -> tuple[str, ...]:
    """Everything that forbids a set-up, each with the number that limits it.

    Parameters
    ----------
    hole : Hole [-]
        With its sections and static level.
    setup : SetUp [m, Pa]
        The position to check.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    tuple of str [-]
        Empty when nothing forbids it.

    References
    ----------
    Common practice, no source.
    """
    return tuple(words for _, words in kinds_of_faults(hole, setup, rules=rules))


def kinds_of_faults(hole: Hole, setup: SetUp, *, rules: Rules | None = None) -> tuple[Fault, ...]:
    """The same with the kind of each: what it is that forbids the set-up.

    Parameters
    ----------
    hole : Hole [-]
        With its sections and static level.
    setup : SetUp [m, Pa]
        The position to check.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    tuple of (Kind, str) [-]
        Empty when nothing forbids it.

    References
    ----------
    Common practice, no source.
    """
    kept = rules or Rules()
    found = [*_zone_faults(hole, setup, kept)]
    for element in setup.elements_m:
        found += _element_faults(hole, setup.packer, element, kept)
    found += _tool_faults(hole, setup, kept)
    inflation = plan_inflation(
        setup.packer,
        hole,
        setup.elements_m[-1][1],
        rules=kept,
        shallowest_m=setup.elements_m[0][0],
    )
    return (*found, *(("pressure", words) for words in inflation.refusals))


def _zone_faults(hole: Hole, setup: SetUp, rules: Rules) -> list[Fault]:
    """The zone itself: long enough, bare rock throughout, under water."""
    found: list[Fault] = []
    if setup.length_m < rules.shortest_zone_m - TINY:
        words = f"the zone of {setup.length_m:.2f} m is shorter than {rules.shortest_zone_m:g} m"
        found.append(("length", words))
    if not _is_bare(hole, setup.top_m, setup.bottom_m):
        words = f"the zone {setup.top_m:.2f}-{setup.bottom_m:.2f} m is not all open hole"
        found.append(("open", words))
    water = hole.static_depth_m
    if water is not None and hole.vertical(setup.top_m) < water - TINY:
        words = f"the zone starts above the static water level at {hole.along(water):.2f} m"
        found.append(("water", words))
    return found


def _element_faults(
    hole: Hole, packer: Packer, element: tuple[float, float], rules: Rules
) -> list[Fault]:
    """One packer element: in one section of bare, sound rock of a fitting diameter, clear of its
    ends.
    """
    top, bottom = element
    where = f"the packer element at {top:.2f}-{bottom:.2f} m"
    inside = [
        s
        for s in hole.open_sections
        if s.top_m + rules.clearance_m <= top + TINY
        and bottom - TINY <= s.bottom_m - rules.clearance_m
    ]
    if not inside:
        words = (
            f"{where} is not inside one section of open hole, {rules.clearance_m:g} m clear of"
            " casing, changes of diameter and the bottom"
        )
        return [("ends", words)]
    found: list[Fault] = []
    diameter = inside[0].diameter_m
    if not packer.min_hole_m - TINY <= diameter <= packer.max_hole_m + TINY:
        words = (
            f"{where} meets a hole of {1e3 * diameter:.0f} mm; {packer.packer} fits"
            f" {1e3 * packer.min_hole_m:.0f}-{1e3 * packer.max_hole_m:.0f} mm"
        )
        found.append(("diameter", words))
    found += _caliper_faults(hole, packer, element, inside[0], rules)
    for unsound_top, unsound_bottom in hole.unsound_m:
        if top < unsound_bottom - TINY and bottom > unsound_top + TINY:
            words = f"{where} meets unsound rock at {unsound_top:.2f}-{unsound_bottom:.2f} m"
            found.append(("unsound", words))
    return found


def _caliper_faults(
    hole: Hole, packer: Packer, element: tuple[float, float], section: Section, rules: Rules
) -> list[Fault]:
    """Diameters measured where a packer element sits, and as far beside it as from a casing's end:
    within the packer's range, and in gauge.
    """
    top = max(element[0] - rules.clearance_m, section.top_m) + TINY
    bottom = min(element[1] + rules.clearance_m, section.bottom_m) - TINY
    read = hole.measured(top, bottom)
    low, high = gauge_limits(packer, section.diameter_m, rules=rules)
    if not read or (min(read) >= low - TINY and max(read) <= high + TINY):
        return []
    words = (
        f"the packer element at {element[0]:.2f}-{element[1]:.2f} m meets {1e3 * min(read):.0f} to"
        f" {1e3 * max(read):.0f} mm by the caliper, in it or within {rules.clearance_m:g} m;"
        f" {1e3 * low:.0f} to {1e3 * high:.0f} mm will do"
    )
    return [("caliper", words)]


def gauge_limits(packer: Packer, drilled_m: float, *, rules: Rules) -> tuple[float, float]:
    """The smallest and the largest diameter read where a packer element may sit.

    Parameters
    ----------
    packer : Packer [-]
        With its range of holes.
    drilled_m : float [m]
        Diameter of the section.
    rules : Rules [-]
        How far out of gauge a reading may be.

    Returns
    -------
    tuple of (float, float) [m]
        Empty where the first exceeds the second.

    References
    ----------
    Common practice, no source.
    """
    low = max(packer.min_hole_m, (1.0 - rules.out_of_gauge) * drilled_m)
    return low, min(packer.max_hole_m, (1.0 + rules.out_of_gauge) * drilled_m)


def _tool_faults(hole: Hole, setup: SetUp, rules: Rules) -> list[Fault]:
    """The tool on its way down and at its deepest point."""
    packer = setup.packer
    lowest = setup.elements_m[-1][1]
    found: list[Fault] = []
    narrowest = hole.narrowest(lowest)
    if packer.deflated_diameter_m + rules.slack_m > narrowest + TINY:
        words = (
            f"{packer.packer} is {1e3 * packer.deflated_diameter_m:.0f} mm wide when deflated and"
            f" must pass {1e3 * narrowest:.0f} mm"
        )
        found.append(("passing", words))
    if packer.max_depth_m is not None and lowest > packer.max_depth_m + TINY:
        words = f"{lowest:.1f} m is deeper than {packer.max_depth_m:g} m, the maker's limit"
        found.append(("depth", words))
    if packer.max_submergence_m is not None:
        water = hole.static_depth_m or 0.0
        submerged = hole.vertical(lowest) - water
        if submerged > packer.max_submergence_m + TINY:
            words = (
                f"{submerged:.1f} m below water is more than {packer.max_submergence_m:g} m,"
                " the maker's limit"
            )
            found.append(("submergence", words))
    return found


def _is_bare(hole: Hole, top: float, bottom: float) -> bool:
    """Whether open sections cover a stretch without a gap."""
    reached = top
    for section in sorted(hole.open_sections, key=lambda s: s.top_m):
        if section.top_m <= reached + TINY:
            reached = max(reached, section.bottom_m)
    return top >= 0 and reached >= bottom - TINY


def candidates(
    hole: Hole,
    packers: Sequence[Packer],
    spacers: Sequence[Spacer],
    *,
    step_m: float = 0.5,
    rules: Rules | None = None,
) -> tuple[SetUp, ...]:
    """Every set-up of the equipment on hand that nothing forbids, on a grid of depths.

    Parameters
    ----------
    hole : Hole [-]
        Where.
    packers, spacers : sequence of Packer, Spacer [-]
        What is on hand.
    step_m : float [m]
        Step of the grid of depths.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    tuple of SetUp [m, Pa]
        One per zone, with the packer that takes the least pressure; sorted by top and length.

    References
    ----------
    Common practice, no source.
    """
    best: dict[tuple[float, float], SetUp] = {}
    for packer in packers:
        for setup in _grid(hole, packer, spacers, step_m, rules):
            key = (setup.top_m, setup.bottom_m)
            known = best.get(key)
            if known is not None and known.inner_pressure_pa <= setup.inner_pressure_pa:
                continue
            if not faults(hole, setup, rules=rules):
                best[key] = setup
    return tuple(best[key] for key in sorted(best))


def _grid(
    hole: Hole, packer: Packer, spacers: Sequence[Spacer], step: float, rules: Rules | None
) -> list[SetUp]:
    """Straddles at every step and singles over the lower end of the hole, unchecked."""
    depths = [k * step for k in range(1, math.floor(hole.depth_m / step + TINY) + 1)]
    setups = []
    longest = max((s.open_length_m for s in spacers), default=math.inf)
    for depth in depths:
        top = round(depth, 2)
        setups += [
            straddle(hole, packer, s, top_m=top, rules=rules)
            for s in spacers
            if top + s.open_length_m < hole.depth_m
        ]
        if hole.depth_m - top <= 2 * longest:
            setups.append(single(hole, packer, top_m=top, rules=rules))
    return setups
