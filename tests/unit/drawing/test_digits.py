"""Numbers carry the figures that are known of them, and no more."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.drawing.digits import counted


@pytest.mark.parametrize(
    ("given_", "told"),
    [
        ((309_365.0, 273_702.0, 375_663.0), "310,000"),
        ((273_702.0, 273_702.0, 375_663.0), "270,000"),
        ((16_444.0,), "16,000"),
        ((6.94, 4.2, 9.8), "7"),
        ((6.94, 6.9, 7.0), "6.94"),
        ((0.0,), "0"),
        ((12.0, 0.0, 4000.0), "10"),
    ],
)
def test_the_place_of_the_uncertainty_is_the_last_told(
    given_: tuple[float, ...], told: str
) -> None:
    """One figure of the standard deviation (GUM, JCGM 100:2008, 7.2.6, from memory)."""
    assert counted(*given_) == told


@given(st.floats(1e-6, 1e12), st.floats(1e-3, 1.0))
def test_rounding_changes_less_than_the_uncertainty(value: float, share: float) -> None:
    """What is told lies within a half of the last place, which is below one standard deviation."""
    spread = share * value
    told = float(
        counted(value, value - 1.2815515655 * spread, value + 1.2815515655 * spread).replace(
            ",", ""
        )
    )
    assert abs(told - value) <= 0.5 * spread * 1.001 + 1e-12
