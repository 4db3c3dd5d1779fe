"""Bouwer and Rice (1976): the Salt River bed example; numbers and tolerances in source.md."""

import math

import numpy as np
import pytest

from geoprofile.hydraulics.methods.bouwer_rice import PLUGIN
from geoprofile.hydraulics.shapes import bouwer_rice_coefficients, bouwer_rice_log_ratio
from geoprofile.hydraulics.tests import HydraulicTest


def test_log_ratio_of_the_example() -> None:
    """ln(Re/rw) of the example is 2.37, read from the chart by its authors."""
    found = bouwer_rice_log_ratio(4.56, 0.12, below_water=5.5, saturated=80.0)
    assert found == pytest.approx(2.37, rel=0.03)  # a polynomial stands for the chart


def test_k_of_the_example() -> None:
    """K of the example is 3.6e-4 m/s."""
    rate = math.log(0.290 / 0.0025) / 20.0
    time = np.linspace(0.0, 20.0, 60)
    test = HydraulicTest(
        test="1",
        interval="1",
        borehole="1",
        kind="falling head",
        interval_length_m=4.56,
        hole_radius_m=0.12,
        riser_radius_m=0.076,
        top_m=0.94,
        bottom_m=5.5,
        static_depth_m=0.0,
        aquifer_base_m=80.0,
        elapsed_s=time,
        displacement_m=0.290 * np.exp(-rate * time),
    )
    assert PLUGIN.run(test).k_m_per_s == pytest.approx(3.6e-4, rel=0.03)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [
        (5.0, (1.6468, 0.2629, 0.9272)),
        (50.0, (3.0492, 0.4880, 2.5867)),
        (500.0, (8.0757, 2.1280, 10.5554)),
    ],
)
def test_polynomials_at_their_spot_values(ratio: float, expected: tuple[float, ...]) -> None:
    """The polynomials give their spot values; their coefficients carry four digits."""
    assert bouwer_rice_coefficients(ratio) == pytest.approx(expected, rel=1.5e-4)
