"""What the caliper cannot tell of the wall where a packer element is to sit."""

from __future__ import annotations

from itertools import pairwise

from geoprofile.packers.equipment import Hole, Rules, SetUp
from geoprofile.packers.setups import TINY

LOOK = "look at core or image log, or choose sound rock, before inflating"


def caliper_cautions(hole: Hole, setup: SetUp, *, rules: Rules | None = None) -> tuple[str, ...]:
    """Cautions for packer elements of whose wall the caliper tells too little.

    Parameters
    ----------
    hole : Hole [-]
        With its caliper log, or without.
    setup : SetUp [m]
        The position.
    rules : Rules or None [-]
        What the plan keeps to; None for the defaults.

    Returns
    -------
    tuple of str [-]
        Where there is no log, no reading lies in the element, or readings in and beside it lie
        farther apart than the element is long or than the clearance kept from a breakout.

    Notes
    -----
    A breakout shorter than the distance of the readings may hide between two of them.

    References
    ----------
    Common practice, no source.
    """
    kept = rules or Rules()
    if not hole.caliper_depth_m:
        words = f"no caliper log of {hole.borehole}: the wall at the packer elements is not known"
        return (f"{words}; {LOOK}",)
    told = [_caution(hole, top, bottom, kept) for top, bottom in setup.elements_m]
    return tuple(one for one in told if one is not None)


def _caution(hole: Hole, top: float, bottom: float, rules: Rules) -> str | None:
    where = f"packer element at {top:.2f}-{bottom:.2f} m"
    if not hole.measured(top - TINY, bottom + TINY):
        return f"{where}: no caliper reading, so its wall is not known; {LOOK}"
    gap = _widest(hole, top - rules.clearance_m, bottom + rules.clearance_m)
    if gap <= min(bottom - top, rules.clearance_m) + TINY:
        return None
    return f"{where}: caliper readings up to {gap:.2f} m apart, a breakout may hide there; {LOOK}"


def _widest(hole: Hole, top: float, bottom: float) -> float:
    """The widest gap between readings that reaches into a stretch, with its ends as limits."""
    inside = [d for d in hole.caliper_depth_m if top < d < bottom]
    marks = [top, *inside, bottom]
    return max(b - a for a, b in pairwise(marks))
