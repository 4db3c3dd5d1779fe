"""Scales of plans: which one shows a site in a place on paper, and what it then shows."""

from __future__ import annotations

from geoprofile.drawing import people
from geoprofile.store.projects import Box

ROUND_STEPS = (1.0, 1.25, 2.0, 2.5, 5.0)
NEAR = 1e-6  # a scale that fits but for rounding fits

Place = tuple[float, float, float, float]  # from the left, from the top, width, height [mm]


def scale_for(extent: Box, place: Place) -> float:
    """The largest usual scale (as its denominator) at which an extent fits into a place."""
    least = max((extent[2] - extent[0]) / place[2], (extent[3] - extent[1]) / place[3]) * 1000
    power = 1.0
    while power < 1e12:
        for step in ROUND_STEPS:
            if step * power >= least * (1 - NEAR):
                return step * power
        power *= 10
    return power


def box_at(centre: tuple[float, float], place: Place, scale: float) -> Box:
    """The extent that a place shows at a scale."""
    half_x, half_y = place[2] * scale / 2000, place[3] * scale / 2000
    return centre[0] - half_x, centre[1] - half_y, centre[0] + half_x, centre[1] + half_y


def segment_for(scale: float, long_mm: float = 20.0) -> float:
    """A round length [m] that is about so long at a scale."""
    return _round_below(scale * long_mm / 1000)


def bar_for(scale: float) -> float:
    """A round length in the unit that people read, some 20 mm long at a scale."""
    return _round_below(people.now().value(scale * 0.02, "m"))


def _round_below(wanted: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that is no more."""
    power = 1.0
    while power * 10 <= wanted:
        power *= 10
    while power > wanted:
        power /= 10
    return max(s * power for s in (1.0, 2.0, 5.0) if s * power <= wanted)
