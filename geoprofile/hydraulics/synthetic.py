"""Clean tests with a known K, for the contract check of the methods."""

from __future__ import annotations

import numpy as np

from geoprofile.records import HydraulicTest


def exponential_test(k: float, *, log_ratio: float, initial: float = 0.8) -> HydraulicTest:
    """A straddled interval 3 m long whose level recovers along an exact exponential.

    Parameters
    ----------
    k : float [m/s]
        Of the ground.
    log_ratio : float [-]
        P of the formula that is to find K again.
    initial : float [m]
        Displacement at the start; below 0 for a rising head.

    Returns
    -------
    HydraulicTest [-]
        120 readings until 2 % are left.
    """
    riser, length = 0.025, 3.0
    lag = riser**2 * log_ratio / (2.0 * length * k)
    time = np.linspace(0.0, 4.0 * lag, 120)
    return HydraulicTest(
        test="example",
        interval="example",
        borehole="example",
        kind="falling head" if initial > 0 else "rising head",
        interval_length_m=length,
        hole_radius_m=0.048,
        riser_radius_m=riser,
        top_m=12.0,
        bottom_m=15.0,
        static_depth_m=4.0,
        expected_displacement_m=abs(initial),
        elapsed_s=time,
        displacement_m=initial * np.exp(-time / lag),
    )
