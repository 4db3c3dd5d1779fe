"""Zones of another length over the same rock: what tells a skin and Kv/Kh from K."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoprofile import packers
from geoprofile.packers import Hole, Packer, Rules, Spacer
from geoprofile.products.packer_plan.plan import Visit

TIMES = 2.0  # [-] length of a long zone over that of the planned ones
MOST = 2  # long zones that are proposed
STEP_M = 0.25  # [m] between the positions that are tried
WHY = (
    "a zone of another length over the same rock tells what skin and Kv/Kh add to the flow path, "
    "which zones of one length cannot"
)


@dataclass(frozen=True)
class LongZone:
    """One proposal: depths along the hole [m], open length by name, intervals that it spans."""

    top_m: float
    bottom_m: float
    spacer: str
    spans: tuple[str, ...]
    flow_m2_s: float | None

    @property
    def words(self) -> str:
        """The proposal in one sentence."""
        where = f"{self.top_m:.2f}-{self.bottom_m:.2f} m with open length {self.spacer}"
        most = ", where most water is expected" if self.flow_m2_s is not None else ""
        return f"Also test {where}, over {', '.join(self.spans)}{most}: {WHY}."


def proposals(
    hole: Hole,
    packer: Packer,
    spacers: Sequence[Spacer],
    visits: Sequence[Visit],
    *,
    rules: Rules,
) -> tuple[str, ...]:
    """The long zones in words, or what is missing on hand for one."""
    if len(visits) < 2:
        return ()
    found = long_zones(hole, packer, spacers, visits, rules=rules)
    if found:
        return tuple(zone.words for zone in found)
    least = _least_m(visits)
    if max((s.open_length_m for s in spacers), default=0.0) < least:
        return (f"No open length of {least:g} m or more is on hand: {WHY}.",)
    return (f"No open length on hand of {least:g} m or more spans two planned zones: {WHY}.",)


def _least_m(visits: Sequence[Visit]) -> float:
    """Length of a long zone [m], to the millimetre: twice 5 ft are no more than 10 ft."""
    usual = np.median([v.setup.bottom_m - v.setup.top_m for v in visits])
    return round(TIMES * float(usual), 3)


def long_zones(
    hole: Hole,
    packer: Packer,
    spacers: Sequence[Spacer],
    visits: Sequence[Visit],
    *,
    rules: Rules,
) -> tuple[LongZone, ...]:
    """Up to two long zones over planned ones, where K matters most.

    Parameters
    ----------
    hole : Hole
        With its open stretches [m].
    packer : Packer
        Of the plan.
    spacers : Sequence of Spacer
        Open lengths on hand [m].
    visits : Sequence of Visit
        The planned set-ups, with expected K where a model tells it.
    rules : Rules
        Limits that every position keeps.

    Returns
    -------
    tuple of LongZone
        None where no open length on hand is twice the planned one, or no position keeps all limits.
    """
    if len(visits) < 2:
        return ()
    least = _least_m(visits)
    longer = sorted((s for s in spacers if s.open_length_m >= least), key=lambda s: s.open_length_m)
    found: list[LongZone] = []
    for spacer in longer:
        found += _positions(hole, packer, spacer, visits, rules)
        if found:
            break
    found.sort(key=lambda z: (-(z.flow_m2_s or 0.0), -len(z.spans), z.top_m))
    chosen: list[LongZone] = []
    for zone in found:
        if all(zone.top_m >= c.bottom_m or zone.bottom_m <= c.top_m for c in chosen):
            chosen.append(zone)
        if len(chosen) == MOST:
            break
    return tuple(sorted(chosen, key=lambda z: z.top_m))


def _positions(
    hole: Hole, packer: Packer, spacer: Spacer, visits: Sequence[Visit], rules: Rules
) -> list[LongZone]:
    """Every position that keeps the limits and spans two planned zones or more."""
    out = []
    for top in np.arange(STEP_M, hole.depth_m - spacer.open_length_m, STEP_M):
        bottom = float(top) + spacer.open_length_m
        inside = [
            v for v in visits if v.setup.top_m >= top - 1e-6 and v.setup.bottom_m <= bottom + 1e-6
        ]
        if len(inside) < 2:
            continue
        setup = packers.straddle(hole, packer, spacer, top_m=float(top), rules=rules)
        if packers.faults(hole, setup, rules=rules):
            continue
        known = [v.k.median_m_per_s * (v.setup.bottom_m - v.setup.top_m) for v in inside if v.k]
        flow = float(sum(known)) if len(known) == len(inside) else None
        names = tuple(v.interval for v in inside)
        out.append(LongZone(float(top), bottom, spacer.spacer, names, flow))
    return out
