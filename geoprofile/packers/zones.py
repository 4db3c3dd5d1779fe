"""Zones for a purpose: a hydraulic profile without a gap, or zones apart for chemistry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from geoprofile.packers.equipment import Hole, Packer, Rules, SetUp, Spacer
from geoprofile.packers.positions import CENTIMETRES, free_stretches, sound_parts
from geoprofile.packers.reasons import why_untested
from geoprofile.packers.setups import TINY, faults, single, straddle
from geoprofile.packers.stretches import Stretch, without


@dataclass(frozen=True)
class Profile:
    """Set-ups from top to bottom, and the stretches of open hole that they leave untested [m].

    `reasons` says for each untested stretch why it is left.
    """

    setups: tuple[SetUp, ...]
    untested_m: tuple[Stretch, ...]
    reasons: tuple[str, ...]


def continuous_zones(
    hole: Hole,
    packer: Packer,
    spacer: Spacer,
    *,
    overlap: float = 0.2,
    to_bottom: bool = True,
    rules: Rules | None = None,
) -> Profile:
    """A hydraulic profile in which every depth that the tool can isolate is tested.

    Parameters
    ----------
    hole, packer, spacer : Hole, Packer, Spacer [-]
        Where and with what.
    overlap : float [-]
        Least share of a zone that the next one repeats, from 0 to below 1.
    to_bottom : bool [-]
        Whether a single packer ends the profile at the bottom of the hole.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    Profile [m]
        Zones in order, steps no longer than (1 - overlap) L wherever packer elements may sit, and
        what is left untested: next to casing, across changes of diameter, above water.

    Notes
    -----
    Depths under an element in one position are tested in another, so elements leave no gap.
    Overlapping zones share rock: their K are no independent values.

    References
    ----------
    Common practice, no source.
    """
    kept = rules or Rules()
    length = spacer.open_length_m
    tops: list[float] = []
    for low, high in allowed_tops(hole, packer, spacer, rules=kept):
        step = (1.0 - overlap) * length - 1.0 / CENTIMETRES  # room for rounding to centimetres
        count = math.ceil((high - low) / max(step, 1.0 / CENTIMETRES) - 1e-9)
        tops += [low + (high - low) * k / max(count, 1) for k in range(count + 1)]
    setups = _checked(
        hole, [straddle(hole, packer, spacer, top_m=t, rules=kept) for t in _rounded(tops)], kept
    )
    tried: list[SetUp] = []
    if to_bottom:
        last, tried = _last(hole, packer, setups, overlap * length, 3.0 * length, kept)
        setups += last
    return _profile(hole, packer, spacer, setups, kept, tried)


def separate_zones(
    hole: Hole,
    packer: Packer,
    spacer: Spacer,
    *,
    apart_m: float = 0.0,
    rules: Rules | None = None,
) -> Profile:
    """Zones for chemistry with untouched rock between them.

    Parameters
    ----------
    hole, packer, spacer : Hole, Packer, Spacer [-]
        Where and with what.
    apart_m : float [m]
        Least rock between zones: the distance invaded by injected water; at least one packer
        element.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    Profile [m]
        Zones in order, spread evenly over each stretch where the tool can sit.

    References
    ----------
    Common practice, no source.
    """
    kept = rules or Rules()
    step = spacer.open_length_m + max(apart_m, packer.element_length_m)
    tops: list[float] = []
    for low, high in allowed_tops(hole, packer, spacer, rules=kept):
        first = max(low, tops[-1] + step) if tops else low
        first = math.ceil(first * CENTIMETRES - TINY) / CENTIMETRES
        more = math.floor((high - first) / step + TINY)
        if more >= 0:  # what is spare goes between the zones
            wide = math.floor((high - first) / max(more, 1) * CENTIMETRES + TINY) / CENTIMETRES
            tops += [first + k * wide for k in range(more + 1)]
    setups = _checked(
        hole, [straddle(hole, packer, spacer, top_m=t, rules=kept) for t in _rounded(tops)], kept
    )
    return _profile(hole, packer, spacer, setups, kept)


def allowed_tops(
    hole: Hole, packer: Packer, spacer: Spacer, *, rules: Rules
) -> tuple[Stretch, ...]:
    """Stretches in which the top of a straddled zone may lie.

    Parameters
    ----------
    hole, packer, spacer : Hole, Packer, Spacer [-]
        Where and with what.
    rules : Rules [-]
        What the plan keeps to.

    Returns
    -------
    tuple of (float, float) [m]
        Depths along the hole, whole centimetres, in order.

    Notes
    -----
    Places for both packer elements are cut out of the open sections; what is left is then held
    against all limits.

    References
    ----------
    Own derivation.
    """
    element, length = packer.element_length_m, spacer.open_length_m
    homes = sound_parts(hole, packer, rules=rules)  # of the upper ends of packer elements
    upper = [(a + element, b + element) for a, b in homes]
    lower = [(a - length, b - length) for a, b in homes]
    both = [(max(a, c), min(b, d)) for a, b in upper for c, d in lower]
    stretches = [_to_centimetres(s) for s in sorted(both) if s[1] >= s[0] - TINY]
    return tuple(
        part
        for stretch in stretches
        if stretch is not None
        for part in free_stretches(hole, packer, spacer, stretch, rules=rules)
    )


def _to_centimetres(stretch: Stretch) -> Stretch | None:
    """The stretch shrunk to whole centimetres."""
    low = math.ceil(stretch[0] * CENTIMETRES - 1e-6) / CENTIMETRES
    high = math.floor(stretch[1] * CENTIMETRES + 1e-6) / CENTIMETRES
    return (low, high) if high >= low else None


def _rounded(tops: Sequence[float]) -> list[float]:
    """Whole centimetres, in order, each once."""
    return sorted({round(t, 2) for t in tops})


def _checked(hole: Hole, setups: Sequence[SetUp], rules: Rules) -> list[SetUp]:
    """Only what nothing forbids."""
    return [s for s in setups if not faults(hole, s, rules=rules)]


def _last(
    hole: Hole,
    packer: Packer,
    setups: Sequence[SetUp],
    repeat: float,
    longest: float,
    rules: Rules,
) -> tuple[list[SetUp], list[SetUp]]:
    """The single packer that tests what the straddle leaves at the bottom; those looked at."""
    if setups:
        first, last = setups[-1].bottom_m - repeat, setups[-1].top_m
    else:  # too short for a straddle
        first, last = hole.depth_m - rules.shortest_zone_m, max(hole.depth_m - longest, 0.0)
    start = math.floor(first * CENTIMETRES + TINY)
    deepest = math.floor((hole.depth_m - rules.shortest_zone_m) * CENTIMETRES + TINY)
    upwards = range(start, math.floor(last * CENTIMETRES), -1)
    looked: list[SetUp] = []
    for centimetres in (*upwards, *range(start + 1, deepest + 1)):  # else as much as can be
        looked.append(single(hole, packer, top_m=centimetres / CENTIMETRES, rules=rules))
        if not faults(hole, looked[-1], rules=rules):
            return [looked[-1]], []
    return [], looked


def _profile(
    hole: Hole,
    packer: Packer,
    spacer: Spacer,
    setups: Sequence[SetUp],
    rules: Rules,
    tried: Sequence[SetUp] = (),
) -> Profile:
    """The set-ups with what they leave of the open hole, and why."""
    zones = [(s.top_m, s.bottom_m) for s in setups]
    pieces = (p for s in hole.open_sections for p in without((s.top_m, s.bottom_m), zones))
    left = [piece for piece in pieces if piece[1] - piece[0] > TINY]
    reasons = (
        why_untested(hole, packer, piece, spacer=spacer, tried=tried, rules=rules) for piece in left
    )
    return Profile(tuple(setups), tuple(left), tuple(reasons))
