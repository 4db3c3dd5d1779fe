"""Water that passes the element in a test of pressure steps, from heads read outside the zone."""

from __future__ import annotations

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.injection import steps_of
from geoprofile.hydraulics.leak import (
    CHANCE,
    OPEN_HOLE,
    Leak,
    annulus_m2,
    loss_ratio,
    open_hole_above,
    without_ground,
)
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.hydraulics.water_balance import Balance, passed_share

HEAD_SD_M, HEAD_SD = 0.02, 0.05  # [m], [-] error of a head outside: of the dip, and of itself
STEP_MIN = 10.0  # [min] of a step whose duration is not told; common practice, no source


def step_leak(test: HydraulicTest) -> Leak:
    """The leak of a test in pressure steps.

    Parameters
    ----------
    test : HydraulicTest [-]
        With its steps.

    Returns
    -------
    Leak [-]
        Balanced where heads outside, the area of the annulus and the open hole are known; else the
        chance of one.
    """
    if test.isolation not in OPEN_HOLE:
        return Leak()
    area = annulus_m2(test)
    if area is None or not any(s.outside_head_m is not None for s in test.pressure_steps):
        return Leak(chance=CHANCE)
    try:
        steps = steps_of(test)
    except DataError:  # a method that needs the steps refuses them in words; others may have a K
        return Leak(chance=CHANCE)
    if not np.isfinite(steps.outside).any() or not np.any(steps.flow > 0):
        return Leak(chance=CHANCE)
    above, own = open_hole_above(test)
    seconds = np.array([60.0 * (s.minutes or STEP_MIN) for s in test.pressure_steps])
    sd = np.hypot(HEAD_SD_M, HEAD_SD * np.abs(np.nan_to_num(steps.outside)))
    volume = float(steps.flow @ seconds)
    balance = Balance(seconds, steps.head, steps.outside, sd, volume, area, False)
    conductance = volume / float(steps.head @ seconds)
    share, spread = passed_share(balance, conductance, loss_ratio(test, above, own))
    return without_ground(test, share, spread)
