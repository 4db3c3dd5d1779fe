"""The true reason for a test: where a plume is not bounded, and between which holes its edge is."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from geoprofile.products.advice.known import Known
from geoprofile.products.advice.wording import why_chemistry

FRAME = cast(
    Any,
    SimpleNamespace(
        azimuth_deg=90.0, length_along_m=60.0, length_across_m=20.0, length_vertical_m=5.0
    ),
)


def known(name: str, x: float, y: float, depth: float, value: float | None) -> Known:
    """A result; a non-detect has the limit 0.5."""
    xyz = np.array([x, y, -depth])
    return Known(name, depth, xyz, value, None if value is not None else 0.5, "ug/L")


HIGH = known("MW-1", 0.0, 0.0, 32.0, 380.0)
FAR_EAST = known("MW-7", 140.0, 0.0, 28.0, 3.0)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((0.0, 0.0, -35.0), "not bounded below:"),
        ((0.0, 0.0, -26.0), "not bounded above:"),
        ((0.0, -30.0, -32.0), "not bounded to the south:"),
        ((-40.0, 0.0, -32.0), "not bounded to the west:"),
        ((-30.0, -30.0, -32.0), "not bounded to the south-west:"),
        ((70.0, 0.0, -31.0), "between MW-1 (380 µg/L at 32 m) and MW-7 (3 µg/L at 28 m)"),
    ],
)
def test_the_reason_is_the_side_that_nothing_bounds(
    place: tuple[float, float, float], words: str
) -> None:
    """A clean hole to the east bounds the east alone."""
    told = why_chemistry((HIGH, FAR_EAST), np.array(place), criterion=5.0, chance=0.9, frame=FRAME)
    assert told.startswith(words)
    assert "90 %" in told


def test_a_clean_zone_underneath_bounds_the_plume_below() -> None:
    """It is named, not the hole 140 m away."""
    deep = known("MW-1", 0.0, 0.0, 42.0, None)
    told = why_chemistry(
        (HIGH, FAR_EAST, deep), np.array([0, 0, -37.0]), criterion=5.0, chance=0.5, frame=FRAME
    )
    assert told.startswith("between MW-1 (380 µg/L at 32 m) and MW-1 (below 0.5 µg/L at 42 m)")
