"""Cooper, Bredehoeft and Papadopulos (1967): the well at Dawsonville; see source.md."""

import math

import numpy as np
import pytest

from geoprofile.hydraulics.methods.radial_storage import PLUGIN
from geoprofile.hydraulics.recovery import radial_modes, recovery
from geoprofile.hydraulics.tests import HydraulicTest

SECONDS = np.arange(3.0, 64.0, 3.0)
HEAD = np.array(
    [0.457, 0.392, 0.345, 0.308, 0.280, 0.252, 0.224, 0.205, 0.187, 0.168, 0.149, 0.140, 0.131,
     0.112, 0.108, 0.093, 0.089, 0.082, 0.075, 0.071, 0.065]
)  # fmt: skip
H0, RADIUS, LENGTH = 0.560, 0.076, 98.0
PUBLISHED_T, PUBLISHED_S = 5.3e-4, 1e-3


def the_test() -> HydraulicTest:
    """The readings with the displacement at the start."""
    return HydraulicTest(
        test="1", interval="1", borehole="1", kind="falling head", isolation="open hole",
        interval_length_m=LENGTH, hole_radius_m=RADIUS, riser_radius_m=RADIUS, top_m=24.0,
        bottom_m=122.0, confined=True, aquifer_top_m=24.0, aquifer_base_m=122.0,
        elapsed_s=np.append(0.0, SECONDS), displacement_m=np.append(H0, HEAD),
        expected_displacement_m=10.16e-3 / (math.pi * RADIUS**2),
    )  # fmt: skip


def test_volume_gives_the_initial_head() -> None:
    """10.16 L in a pipe of 7.6 cm radius is 0.560 m."""
    assert 10.16e-3 / (math.pi * RADIUS**2) == pytest.approx(H0, rel=1e-3)


def test_transmissivity_with_storage_free() -> None:
    """T within 15 % of the hand match, S within half a decade."""
    result = PLUGIN.run(the_test())
    assert result.k_m_per_s * LENGTH == pytest.approx(PUBLISHED_T, rel=0.15)
    assert result.specific_storage_per_m is not None
    storage = result.specific_storage_per_m * LENGTH
    assert abs(math.log10(storage / PUBLISHED_S)) < 0.5


def test_published_pair_is_inside_the_spread() -> None:
    """The hand match lies within the 95 % of the fit."""
    result = PLUGIN.run(the_test())
    low, high = result.k_low_m_per_s * LENGTH, result.k_high_m_per_s * LENGTH
    assert low < PUBLISHED_T < high


def test_transmissivity_with_the_published_storage() -> None:
    """With S 1e-3 the best T is within 6 % of 5.3 cm2/s."""
    trial = np.linspace(4e-4, 7e-4, 301)
    misfit = [
        float(
            np.sum((recovery(2 * t * SECONDS / RADIUS**2, 1e-3, radial_modes()) * H0 - HEAD) ** 2)
        )
        for t in trial
    ]
    assert trial[int(np.argmin(misfit))] == pytest.approx(PUBLISHED_T, rel=0.06)
