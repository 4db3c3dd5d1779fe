"""Positions of straddles found piece by piece are those that looking at each centimetre finds."""

from __future__ import annotations

import random
from itertools import accumulate, pairwise

import pytest

from geoprofile.packers import Hole, Packer, Rules, Section, Spacer, allowed_tops, faults, straddle

FEW, MANY = 30, 2_000


def hole_of(rng: random.Random) -> Hole:
    """A short hole that may bend up and down again, with casing, joints, weak rock, a log."""
    lengths = [rng.choice([1.5, 2.37, 4.0, 6.5, 9.0, 12.0]) for _ in range(rng.choice([1, 2, 3]))]
    kinds = [rng.choice(["casing", *(5 * ["open hole"])]) for _ in lengths]
    ends = [0.0, *accumulate(lengths)]
    sections = tuple(
        Section(a, b, rng.choice([0.096, 0.096, 0.101, 0.086]), kind)
        for a, b, kind in zip(ends, ends[1:], kinds, strict=False)
    )
    depth = ends[-1]
    stations = sorted(rng.uniform(0.5, depth) for _ in range(rng.choice([0, 0, 1, 3])))
    along = [0.0, *stations, depth] if rng.random() < 0.7 else []
    steps = [rng.choice([1.0, 1.0, 0.8, 0.0, -0.5]) * (b - a) for a, b in pairwise(along)]
    read = sorted(rng.uniform(0.0, depth) for _ in range(rng.choice([0, 0, 5, 30])))
    weak = [
        (t, t + rng.uniform(0.02, 0.5)) for t in sorted(rng.uniform(0, depth) for _ in range(2))
    ]
    return Hole(
        "B",
        depth,
        sections,
        static_depth_m=rng.choice([None, 0.0, 0.9, 2.2, 5.0]),
        along_m=tuple(along),
        vertical_m=(0.0, *accumulate(steps)) if along else (),
        unsound_m=tuple(weak) if rng.random() < 0.4 else (),
        caliper_depth_m=tuple(read),
        caliper_m=tuple(
            rng.choice([0.097, 0.095, 0.097, 0.095, 0.099, 0.130, 0.080]) for _ in read
        ),
    )


def equipment_of(rng: random.Random) -> tuple[Packer, Spacer, Rules]:
    """Limits that some of the positions pass and others do not."""
    packer = Packer(
        "P",
        rng.choice([0.07, 0.07, 0.078]),
        0.08,
        rng.choice([0.12, 0.098]),
        rng.choice([0.2, 0.333, 0.5]),
        200e3,
        rng.choice([290e3, 310e3, 2500e3, 2500e3]),
        rng.choice([None, None, 7.0]),
        rng.choice([None, None, 3.0]),
        None,
        rng.choice(["gas", "water"]),
        rng.choice([None, None, 230e3, 265e3]),
    )
    rules = Rules(rock_limit_pa_per_m=rng.choice([None, None, 50e3, 150e3]))
    return packer, Spacer("S", rng.choice([0.3, 0.7, 1.01])), rules


def hold(seed: int) -> int:
    """One random hole, both ways; the number of free positions."""
    rng = random.Random(seed)
    hole, (packer, spacer, rules) = hole_of(rng), equipment_of(rng)
    parts = allowed_tops(hole, packer, spacer, rules=rules)
    found = {c for a, b in parts for c in range(round(100 * a), round(100 * b) + 1)}
    each = {
        c
        for c in range(round(100 * hole.depth_m))
        if not faults(hole, straddle(hole, packer, spacer, top_m=c / 100, rules=rules), rules=rules)
    }
    assert found == each, (seed, sorted(found ^ each)[:10])
    return len(each)


def test_no_position_is_lost_or_wrong() -> None:
    """Thirty holes; some positions are free in a good part of them."""
    assert sum(hold(seed) > 0 for seed in range(FEW)) > FEW / 4


@pytest.mark.calibration
def test_two_thousand_holes_lose_no_position() -> None:
    """The same on request: pytest -m calibration tests/property/test_packer_positions.py."""
    assert sum(hold(seed) > 0 for seed in range(FEW, FEW + MANY)) > MANY / 4
