"""What a fit believes of lengths and nugget before it sees data: choices, held by their cost."""

from __future__ import annotations

import math

import numpy as np
import pytest

from geoprofile.kriging import Prior
from geoprofile.kriging.fit.estimation import Belief

# sill, nugget ratio, length along, along over across, along over vertical, azimuth
NUGGET, ALONG, ACROSS, VERTICAL = 1, 2, 3, 4


@pytest.mark.parametrize(
    ("place", "factor"),
    [(NUGGET, 2.718282), (ALONG, 2.225541), (ACROSS, 1.648721), (VERTICAL, 2.013753)],
)
def test_a_factor_of_one_standard_deviation_costs_half_a_unit(place: int, factor: float) -> None:
    """e^1, e^0.8, e^0.5, e^0.7: a normal of the logarithm loses 1/2 of log density at 1 sd."""
    belief = Belief.of(Prior(length_along_m=50.0))
    away = belief.centre.copy()
    away[place] += math.log(factor)
    lost = belief.cost(away)[0] - belief.cost(belief.centre)[0]
    assert lost == pytest.approx(0.5, rel=1e-5)


def test_the_centre_is_what_is_expected_of_ground_without_data() -> None:
    """Sill 0.5, nugget 0.15 of it, 50 m along, half across, a twelfth vertically."""
    centre = np.exp(Belief.of(Prior(length_along_m=50.0)).centre[:5])
    assert centre == pytest.approx([0.5, 0.15, 50.0, 2.0, 12.0], rel=1e-12)
