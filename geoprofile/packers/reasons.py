"""Why open hole stays untested: what forbids every set-up that would test some of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from geoprofile.packers.equipment import Hole, Packer, Rules, SetUp, Spacer
from geoprofile.packers.setups import TINY, Kind, kinds_of_faults, straddle
from geoprofile.packers.stretches import Stretch, without

STEP_CM, SHARE = 5, 0.005  # between the positions that are looked at: the longer, of the stretch
LEAST_M = 0.025  # a set-up that tests less of a stretch gives no reason for it
APART = "left between zones to keep them apart"
# where several kinds forbid as many positions, the first is told
ORDER: tuple[Kind, ...] = (
    "water",
    "diameter",
    "passing",
    "depth",
    "submergence",
    "pressure",
    "caliper",
    "unsound",
    "ends",
    "open",
    "length",
)
WORDS: dict[Kind, str] = {
    "water": "above the water level",
    "caliper": "packer elements keep off what the caliper shows out of gauge",
    "unsound": "packer elements keep off unsound rock",
    "depth": "deeper than the maker's limit",
    "submergence": "farther below water than the maker's limit",
    "pressure": "more pressure needed than a limit allows",
    "open": "no open hole throughout a zone",
    "length": "too short for a zone",
}


def why_untested(
    hole: Hole,
    packer: Packer,
    piece: Stretch,
    *,
    spacer: Spacer | None,
    tried: Sequence[SetUp] = (),
    rules: Rules,
) -> str:
    """The fewest kinds of limits that forbid every set-up which would test some of a stretch.

    Parameters
    ----------
    hole, packer : Hole, Packer [-]
        Where and with what.
    piece : tuple of float [m]
        Top and bottom along the hole.
    spacer : Spacer or None [-]
        Open length of the straddles; None for none.
    tried : sequence of SetUp [m]
        Single packers that were looked at too.
    rules : Rules [-]
        What the plan keeps to.

    Returns
    -------
    str
        In words, the limit that forbids the most first. Where a set-up is free, that the stretch
        is left between zones.

    Notes
    -----
    Set-ups are looked at every 5 cm, or every half percent of a long stretch: a limit that alone
    forbids less than that is not told.

    References
    ----------
    Own derivation.
    """
    step = max(STEP_CM, round(100 * SHARE * (piece[1] - piece[0])))
    setups = [
        *_straddles(hole, packer, spacer, piece, step, rules),
        *_over(tried[::step], piece),
    ]
    found = [(s, {k for k, _ in kinds_of_faults(hole, s, rules=rules)}) for s in setups]
    free = [(s.top_m, s.bottom_m) for s, kinds in found if not kinds]
    left = [part for part in without(piece, free) if part[1] - part[0] > TINY]
    clauses = [] if sum(b - a for a, b in left) > piece[1] - piece[0] - 0.02 else [APART]
    blocked = [kinds for s, kinds in found if kinds and any(_meet(s, part) for part in left)]
    told = [_in_words(kind, hole, packer, piece, rules) for kind in _fewest(blocked)]
    return "; ".join([*told, *clauses]) or APART


def _straddles(
    hole: Hole, packer: Packer, spacer: Spacer | None, piece: Stretch, step_cm: int, rules: Rules
) -> list[SetUp]:
    """Those that would test some of the stretch, at whole centimetres."""
    if spacer is None:
        return []
    first = math.floor(100 * max(piece[0] - spacer.open_length_m, 0.0) + TINY) + 1
    last = math.ceil(100 * piece[1] - TINY) - 1
    tops = sorted({*range(first, last + 1, step_cm), last})
    made = [straddle(hole, packer, spacer, top_m=t / 100, rules=rules) for t in tops if t >= 0]
    return list(_over(made, piece))


def _over(setups: Iterable[SetUp], piece: Stretch) -> Iterable[SetUp]:
    """Those that would test enough of a stretch to be worth a reason."""
    least = min(LEAST_M, 0.5 * (piece[1] - piece[0]))
    return (s for s in setups if _meet(s, piece, least))


def _meet(setup: SetUp, piece: Stretch, least: float = TINY) -> bool:
    """Whether a set-up tests more than so much of a stretch [m]."""
    return min(setup.bottom_m, piece[1]) - max(setup.top_m, piece[0]) > least


def _fewest(blocked: Sequence[set[Kind]]) -> list[Kind]:
    """A few kinds of which each set-up has one: at each turn the one that most of the rest have."""
    chosen: list[Kind] = []
    rest = list(blocked)
    while rest:
        best = max(ORDER, key=lambda kind: sum(kind in kinds for kinds in rest))
        chosen.append(best)
        rest = [kinds for kinds in rest if best not in kinds]
    return chosen


def _in_words(kind: Kind, hole: Hole, packer: Packer, piece: Stretch, rules: Rules) -> str:
    special: dict[Kind, Callable[[], str]] = {
        "ends": lambda: _ends(hole, piece, rules),
        "diameter": lambda: _diameters(hole, packer, piece),
        "passing": lambda: (
            f"{packer.packer} of {1e3 * packer.deflated_diameter_m:.0f} mm does not pass the hole"
        ),
    }
    return special[kind]() if kind in special else WORDS[kind]


def _ends(hole: Hole, piece: Stretch, rules: Rules) -> str:
    """Which end of open hole the packer element and its clearance are taken from."""
    keep = f"{rules.clearance_m:g} m from casing, changes of diameter and the bottom"
    top = any(abs(piece[0] - s.top_m) < TINY for s in hole.open_sections)
    bottom = any(abs(piece[1] - s.bottom_m) < TINY for s in hole.open_sections)
    if top != bottom:
        which = "upper" if top else "lower"
        return f"taken by the {which} packer element and {rules.clearance_m:g} m of clearance"
    return f"packer elements keep {keep}"


def _diameters(hole: Hole, packer: Packer, piece: Stretch) -> str:
    """The diameters that the packer does not take, of the sections that the stretch meets first."""
    unfit = [
        s
        for s in hole.open_sections
        if not packer.min_hole_m - TINY <= s.diameter_m <= packer.max_hole_m + TINY
    ]
    here = [s for s in unfit if s.top_m < piece[1] - TINY and s.bottom_m > piece[0] + TINY]
    named = dict.fromkeys(f"{1e3 * s.diameter_m:.0f}" for s in here or unfit)
    return (
        f"a hole of {' and '.join(named)} mm ({packer.packer} takes"
        f" {1e3 * packer.min_hole_m:.0f} to {1e3 * packer.max_hole_m:.0f} mm)"
    )
