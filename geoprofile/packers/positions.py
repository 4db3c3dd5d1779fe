"""Where along a stretch a straddle is free, without looking at every centimetre.

Between the depths at which a hole bends, meets its water level or begins another section, each
limit is a linear inequality in depth. What holds at both ends of such a piece holds between them,
and a limit that is passed at both ends is passed between them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import cache
from itertools import pairwise
from typing import TypeAlias

from geoprofile.packers.equipment import Hole, Packer, Rules, Section, Spacer
from geoprofile.packers.setups import TINY, Kind, gauge_limits, kinds_of_faults, straddle
from geoprofile.packers.stretches import Stretch, without

CENTIMETRES = 100.0  # [1/m]
Whole: TypeAlias = tuple[int, int]  # first and last position [cm]
SEVERAL: frozenset[Kind] = frozenset({"pressure"})  # kinds that stand for more than one limit


def free_stretches(
    hole: Hole, packer: Packer, spacer: Spacer, stretch: Stretch, *, rules: Rules
) -> list[Stretch]:
    """The parts of a stretch where nothing forbids the set-up.

    Parameters
    ----------
    hole, packer, spacer : Hole, Packer, Spacer [-]
        Where and with what.
    stretch : tuple of float [m]
        Tops of the zone, in whole centimetres; both packer elements stay in one sound part of one
        section each, and clear of what the caliper shows out of gauge.
    rules : Rules [-]
        What the plan keeps to.

    Returns
    -------
    list of (float, float) [m]
        In order, whole centimetres.

    References
    ----------
    Own derivation.
    """

    @cache
    def at(centimetres: int) -> frozenset[Kind]:
        setup = straddle(hole, packer, spacer, top_m=centimetres / CENTIMETRES, rules=rules)
        return frozenset(kind for kind, _ in kinds_of_faults(hole, setup, rules=rules))

    element, length = packer.element_length_m, spacer.open_length_m
    edges = (-element, 0.0, length, length + element)  # of elements, from the top of the zone
    breaks = {depth - edge for depth in _changes(hole, rules) for edge in edges}
    first, last = (round(end * CENTIMETRES) for end in stretch)
    parts: list[Whole] = []
    for piece in _pieces(first, last, breaks):
        for low, high in _free(*piece, at):
            if parts and low == parts[-1][1] + 1:
                parts[-1] = (parts[-1][0], high)
            else:
                parts.append((low, high))
    return [(low / CENTIMETRES, high / CENTIMETRES) for low, high in parts]


def sound_parts(hole: Hole, packer: Packer, *, rules: Rules) -> list[Stretch]:
    """Where the upper end of a packer element may lie, by the wall alone.

    Parameters
    ----------
    hole, packer : Hole, Packer [-]
        Where and with what.
    rules : Rules [-]
        Clearance, and how far out of gauge a reading may be.

    Returns
    -------
    list of (float, float) [m]
        Within open sections that the packer fits, clear of their ends, of unsound rock and of
        caliper readings that forbid it.

    References
    ----------
    Own derivation.
    """
    element, clear = packer.element_length_m, rules.clearance_m
    found: list[Stretch] = []
    for section in hole.open_sections:
        if not packer.min_hole_m - TINY <= section.diameter_m <= packer.max_hole_m + TINY:
            continue
        home = (section.top_m + clear, section.bottom_m - clear - element)
        gone = [(top - element, bottom) for top, bottom in hole.unsound_m]
        gone += [(d - clear - element, d + clear) for d in _off_gauge(hole, packer, section, rules)]
        found += without(home, gone)
    return found


def _off_gauge(hole: Hole, packer: Packer, section: Section, rules: Rules) -> list[float]:
    """Depths in a section at which the caliper forbids a packer element."""
    low, high = gauge_limits(packer, section.diameter_m, rules=rules)
    within = (section.top_m + TINY, section.bottom_m - TINY)
    return [
        depth
        for depth, read in zip(hole.caliper_depth_m, hole.caliper_m, strict=True)
        if within[0] <= depth <= within[1] and not low - TINY <= read <= high + TINY
    ]


def _changes(hole: Hole, rules: Rules) -> list[float]:
    """Depths along the hole at which a limit may begin, end or change its slope."""
    found = [0.0, *hole.along_m]
    for section in hole.sections:
        for end in (section.top_m, section.bottom_m):
            found += [end - rules.clearance_m, end, end + rules.clearance_m]
    water = hole.static_depth_m or 0.0
    line = [(0.0, 0.0), *zip(hole.along_m, hole.vertical_m, strict=True)]
    beyond = abs(water) + hole.depth_m
    line.append((line[-1][0] + beyond, line[-1][1] + beyond))  # straight down, as the hole says
    for (a, high), (b, low) in pairwise(line):
        if (high - water) * (low - water) < 0:
            found.append(a + (b - a) * (water - high) / (low - high))
    return found


def _pieces(first: int, last: int, breaks: Iterable[float]) -> list[Whole]:
    """The stretch cut at breaks: none lies between two positions of a piece."""
    after = {math.floor(depth * CENTIMETRES + TINY) for depth in breaks}
    ends = [*sorted(end for end in after if first <= end < last), last]
    return list(zip([first, *(end + 1 for end in ends[:-1])], ends, strict=True))


def _free(first: int, last: int, at: Callable[[int], frozenset[Kind]]) -> list[Whole]:
    """Free positions of a piece in which every limit is linear."""
    above, below = at(first), at(last)
    if not above and not below:
        return [(first, last)]
    if first == last or (above & below) - SEVERAL:
        return []
    middle = (first + last) // 2
    return [*_free(first, middle, at), *_free(middle + 1, last, at)]
