"""Plans keep clear of breakouts that a caliper has seen; the checker here knows the true wall.

It also holds the reason given for every untested stretch against limits written out anew.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from itertools import pairwise

import pytest

from geoprofile.packers import (
    Hole,
    Packer,
    Profile,
    Section,
    SetUp,
    Spacer,
    caliper_cautions,
    continuous_zones,
    separate_zones,
)

DRILLED_M = 0.096
CASED_M = 6.0
CLEAR_M, GAUGE = 0.3, 0.1  # kept from ends and breakouts; diameter beside the drilled one [-]
FEW, MANY = 25, 10_000
Stretch = tuple[float, float]


def breakouts(rng: random.Random, depth: float) -> list[Stretch]:
    """True breakouts of 0.3 to 1.5 m, apart from each other."""
    found: list[Stretch] = []
    at = CASED_M + rng.uniform(0.5, 6.0)
    while at < depth - 2.0 and len(found) < 6:
        length = rng.uniform(0.3, 1.5)
        found.append((at, at + length))
        at += length + rng.uniform(1.5, 8.0)
    return found


def hole_of(rng: random.Random, spacing_m: float) -> tuple[Hole, list[Stretch]]:
    """A hole, perhaps leaning and telescoping, read every so often; and its true breakouts."""
    depth = round(rng.uniform(25.0, 45.0), 1)
    lean = rng.choice([1.0, 0.9, 0.6])
    change = rng.choice([depth, round(rng.uniform(15.0, 20.0), 1)])
    parts = [Section(0.0, CASED_M, 0.104, "casing"), Section(CASED_M, change, DRILLED_M)]
    if change < depth:
        parts.append(Section(change, depth, 0.086))
    broken = breakouts(rng, depth)
    start = rng.uniform(0.0, spacing_m)
    read = [start + k * spacing_m for k in range(int((depth - start) / spacing_m) + 1)]

    def width(at: float) -> float:
        drilled = next(s.diameter_m for s in parts if at <= s.bottom_m)
        return 0.130 if any(t <= at <= b for t, b in broken) else drilled

    hole = Hole(
        "B",
        depth,
        tuple(parts),
        static_depth_m=rng.choice([None, 2.0, 7.5]),
        along_m=(0.0, depth),
        vertical_m=(0.0, lean * depth),
        caliper_depth_m=tuple(read),
        caliper_m=tuple(width(d) for d in read),
    )
    return hole, broken


def touches(setup: SetUp, broken: list[Stretch]) -> float:
    """How far the packer elements of a set-up reach into true breakouts [m]."""
    return max(
        (min(b, low) - max(a, top) for top, low in setup.elements_m for a, b in broken),
        default=0.0,
    )


# what the words of a reason name
NAMED = {
    "above the water level": "water",
    "caliper": "caliper",
    "of clearance": "ends",
    "m from casing": "ends",
    " takes ": "diameter",
    "too short for a zone": "length",
    "keep them apart": "apart",
}


def forbidden(hole: Hole, packer: Packer, zone: Stretch, *, straddled: bool) -> set[str]:
    """What forbids a zone, by limits written out anew: its packer elements, and the water."""
    (top, bottom), long = zone, packer.element_length_m
    found = set()
    vertical = top * hole.vertical_m[-1] / hole.along_m[-1]
    if hole.static_depth_m is not None and vertical < hole.static_depth_m - 1e-6:
        found.add("water")
    if bottom - top < 0.3 - 1e-6:
        found.add("length")
    for start in (top - long, *((bottom,) if straddled else ())):
        end = start + long
        home = [
            s
            for s in hole.sections
            if s.kind == "open hole"
            and s.top_m + CLEAR_M <= start + 1e-6
            and end <= s.bottom_m - CLEAR_M + 1e-6
        ]
        if not home:
            found.add("ends")
            continue
        drilled = home[0].diameter_m
        if not packer.min_hole_m <= drilled <= packer.max_hole_m:
            found.add("diameter")
        most = min((1 + GAUGE) * drilled, packer.max_hole_m)
        low = max(start - CLEAR_M, home[0].top_m)
        high = min(end + CLEAR_M, home[0].bottom_m)
        near = slice(
            bisect_right(hole.caliper_depth_m, low), bisect_left(hole.caliper_depth_m, high)
        )
        reads = hole.caliper_m[near]
        if any(not (1 - GAUGE) * drilled - 1e-6 <= read <= most + 1e-6 for read in reads):
            found.add("caliper")
    return found


def kinds_over(
    hole: Hole, packer: Packer, spacer: Spacer, piece: Stretch, step_cm: int, *, singles: bool
) -> list[set[str]]:
    """What forbids each zone that would test some of a stretch; "apart" where nothing does."""
    first = int(100 * (piece[0] - spacer.open_length_m))
    tops = [k / 100 for k in range(first, int(100 * piece[1]) + 1, step_cm)]
    zones = [(t, t + spacer.open_length_m, True) for t in tops]
    if singles and abs(piece[1] - hole.depth_m) < 1e-6:
        zones += [(t, hole.depth_m, False) for t in tops if t < hole.depth_m]
    least = min(0.02, 0.5 * (piece[1] - piece[0]))
    over = [z for z in zones if min(z[1], piece[1]) - max(z[0], piece[0]) > least]
    return [forbidden(hole, packer, z[:2], straddled=z[2]) or {"apart"} for z in over]


def reasons_are_true(
    hole: Hole, packer: Packer, spacer: Spacer, plan: Profile, *, singles: bool
) -> None:
    """Each zone over an untested stretch is forbidden by a limit named; each named forbids one."""
    for piece, words in zip(plan.untested_m, plan.reasons, strict=True):
        named = {kind for said, kind in NAMED.items() if said in words}
        assert len(named) == len(words.split("; ")), words
        kinds = kinds_over(hole, packer, spacer, piece, 10, singles=singles)
        unexplained = [not (k & named) and "apart" not in named for k in kinds]
        assert not any(a and b for a, b in pairwise(unexplained)), (piece, words)
        if not named <= set().union(*kinds):
            kinds = kinds_over(hole, packer, spacer, piece, 1, singles=singles)
        assert named <= set().union(*kinds), (piece, words)


def hold(seed: int) -> int:
    """Check both kinds of plan in one random hole; how many set-ups were looked at."""
    rng = random.Random(seed)
    spacing = rng.choice([0.1, 0.25, 0.5, 1.0])
    hole, broken = hole_of(rng, spacing)
    element = rng.choice([0.3, 0.5, 1.0])
    packer = Packer("P", 0.07, 0.08, 0.12, element, 200e3, 2500e3)
    spacer = Spacer("S", rng.choice([1.0, 2.0]))
    plans = (continuous_zones(hole, packer, spacer), separate_zones(hole, packer, spacer))
    setups = [setup for plan in plans for setup in plan.setups]
    for plan in plans:
        reasons_are_true(hole, packer, spacer, plan, singles=plan is plans[0])
    for setup in setups:
        if spacing <= 0.3:  # a breakout cannot hide, nor reach past the clearance
            assert touches(setup, broken) <= 1e-6, (seed, setup)
        elif touches(setup, broken) > 1e-6:
            assert caliper_cautions(hole, setup), (seed, setup)
    return len(setups)


def test_no_packer_element_touches_a_breakout() -> None:
    """Readings 0.1 to 1 m apart: never where they are close, never without a caution elsewhere."""
    assert sum(hold(seed) for seed in range(FEW)) > 5 * FEW


@pytest.mark.calibration
def test_ten_thousand_holes_with_breakouts() -> None:
    """The same on request: pytest -m calibration tests/property/test_caliper_laws.py."""
    assert sum(hold(seed) for seed in range(FEW, FEW + MANY)) > 5 * MANY


def test_a_wall_without_readings_is_told() -> None:
    """No log at all: one caution; a fine log: none; a log every metre: both elements."""
    packer, spacer = Packer("P", 0.07, 0.08, 0.12, 0.5, 200e3, 2500e3), Spacer("S", 2.0)
    for spacing, count in ((None, 1), (0.1, 0), (1.0, 2)):
        read = (
            () if spacing is None else tuple(0.05 + spacing * k for k in range(int(30 / spacing)))
        )
        hole = Hole(
            "B",
            30.0,
            (Section(0.0, 30.0, DRILLED_M),),
            caliper_depth_m=read,
            caliper_m=(DRILLED_M,) * len(read),
        )
        for setup in separate_zones(hole, packer, spacer).setups:
            assert len(caliper_cautions(hole, setup)) == count
