"""Water that passes the element in a test of pressure steps, from the head read outside the zone.

Over a step of duration T the annulus of area A1 follows A1 dh1/dt = Gl (H - h1) - Go h1: what comes
in by leak and ground, and what the open hole loses. Go is thought from the geometry and the K of
the test itself, within a factor; the steps narrow it.
"""

from __future__ import annotations

import math

import numpy as np

from geoprofile.hydraulics.injection import steps_of
from geoprofile.hydraulics.leak import (
    BALANCE_SD,
    CHANCE,
    OPEN_HOLE,
    Leak,
    annulus_m2,
    ground_share,
    open_hole_above,
)
from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.tests import Array, HydraulicTest

LOSS_SD_LN = 1.0  # [-] sd of ln of the K of the open hole above over that of the zone
HEAD_SD_M, HEAD_SD = 0.02, 0.05  # [m], [-] error of a head outside: of the dip, and of itself
STEP_MIN = 10.0  # [min] of a step whose duration is not told; common practice, no source
LEAST, MOST, WAYS, LOSSES = 1e-3, 20.0, 90, 21  # leak over the zone's own flow; steps of the sums
GROUND_SD = 0.35  # [-] of what the ground carries round the element; layers


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

    References
    ----------
    Own derivation.
    """
    if test.isolation not in OPEN_HOLE:
        return Leak()
    area = annulus_m2(test)
    above, own = open_hole_above(test)
    steps = steps_of(test)
    seen = np.isfinite(steps.outside)
    if area is None or not seen.any() or above <= 0 or not np.any(steps.flow > 0):
        return Leak(chance=CHANCE)
    duration = np.array([60.0 * (s.minutes or STEP_MIN) for s in test.pressure_steps])
    zone = float(steps.flow.sum() / steps.head.sum())  # [m2/s] flow per metre of head
    p = log_ratio_mean_head(test.interval_length_m, test.hole_radius_m, kv_kh=test.kv_kh)
    loss = zone * p / test.interval_length_m * above / own
    ratio = np.geomspace(LEAST, MOST, WAYS)
    normal = np.linspace(-2.5, 2.5, LOSSES)
    way, lost = np.meshgrid(zone * ratio, loss * np.exp(LOSS_SD_LN * normal), indexing="ij")
    head = _outside(way, lost, steps.head, duration, area)
    miss = (head - steps.outside)[..., seen]
    sd = np.hypot(HEAD_SD_M, HEAD_SD * np.abs(steps.outside[seen]))
    log = -0.5 * ((miss / sd) ** 2).sum(-1) - 0.5 * normal**2
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    share = (way[..., None] * (steps.head - 0.5 * head)).sum(-1) / steps.flow.sum()
    share = np.minimum(share, 1.0)
    mean = float((weight * share).sum())
    spread = math.sqrt(float((weight * (share - mean) ** 2).sum()))
    ground = ground_share(test)
    return Leak(
        mean - ground, math.hypot(BALANCE_SD, spread, GROUND_SD * ground), CHANCE, balanced=True
    )


def _outside(way: Array, loss: Array, head: Array, duration: Array, area: float) -> Array:
    """Head outside at the end of every step (..., n) [m]."""
    level, out = np.zeros(way.shape), np.empty((*way.shape, head.size))
    for i, (h, t) in enumerate(zip(head, duration, strict=True)):
        rest = way / (way + loss) * h
        level = rest + (level - rest) * np.exp(-(way + loss) * t / area)
        out[..., i] = level
    return out
