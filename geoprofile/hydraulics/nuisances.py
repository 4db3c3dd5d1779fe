"""What nobody told about a test: skin, Kv/Kh and a leak, drawn from stated priors.

Each draw changes K by one factor (see `shifts`). The draws are a fixed low-discrepancy sequence, so
that the same test gives the same interval to the last digit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from geoprofile.hydraulics.leak import Leak
from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.tests import Array, HydraulicTest

DRAWS = 4096
DIMENSIONS = 7


@dataclass(frozen=True)
class SkinPrior:
    """Chance that there is a skin; its K over that of the ground and its radius over the hole's.

    The ratio of K is log-uniform between `low` and `high`, the ratio of radii uniform between
    `near` and `far`.
    """

    chance: float
    low: float
    high: float
    near: float = 1.2
    far: float = 3.0


# common practice, no source: the literature gives single cases, no frequencies
SKINS: dict[str | None, SkinPrior] = {
    None: SkinPrior(0.6, 0.18, 4.0),
    "none": SkinPrior(0.8, 0.12, 3.0),
    "some": SkinPrior(0.5, 0.25, 4.0),
    "thorough": SkinPrior(0.25, 0.6, 2.0),
}
# Kv/Kh of a zone when nobody measured it, log-normal; range of 0.05 to 1 common for bedded ground,
# from memory of handbooks; above `KV_MOST` it is not taken
KV_MIDDLE, KV_SD_LOG10, KV_MOST = 0.25, 0.40, 2.0


@dataclass(frozen=True, eq=False)
class Draws:
    """`skin` and `vertical` (n,) added to P; `kept` (n,) share of the flow that the zone takes;
    `normal` (n,) standard normal, `chance` (n,) uniform; all [-].
    """

    skin: Array
    vertical: Array
    kept: Array
    normal: Array
    chance: Array


@lru_cache(maxsize=1)
def _uniform() -> Array:
    """Points (n, d) spread evenly over the unit cube: additive recurrence of Roberts' constants."""
    root = 2.0
    for _ in range(60):  # x^(d+1) = x + 1
        root = (1.0 + root) ** (1.0 / (DIMENSIONS + 1))
    step = root ** -np.arange(1.0, DIMENSIONS + 1)
    points = (0.5 + np.arange(1.0, DRAWS + 1)[:, None] * step) % 1.0
    return _fixed(np.asarray(points))


def draws_of(test: HydraulicTest, leak: Leak, *, vertical_share: float = 1.0) -> Draws:
    """Draws of everything that nobody told about one test.

    Parameters
    ----------
    test : HydraulicTest [-]
        What was told: development, Kv/Kh and its sd.
    leak : Leak [-]
        What is known of a leak.
    vertical_share : float [-]
        How much of a change of Kv/Kh shows in K; 0 where flow is radial.

    Returns
    -------
    Draws [-]
        4096 of each.

    References
    ----------
    Hawkins (1956), Transactions of the AIME 207, 356-357, from memory, for a ring; P of a line with
    one mean head, own derivation (`shapes`).
    """
    vertical = np.zeros(DRAWS)
    if vertical_share > 0:
        length = max(test.interval_length_m, 2.0 * test.hole_radius_m)
        ground = test.kv_kh, test.kv_kh_sd_log10
        vertical = vertical_share * _vertical(length, test.hole_radius_m, *ground)
    normal, chance = _normal(5), _uniform()[:, 6]
    skin = _skin(SKINS.get(test.development, SKINS[None]))
    return Draws(skin, vertical, _kept(leak), normal, chance)


# what several methods and tests draw alike is drawn once


@lru_cache(maxsize=4)
def _normal(column: int) -> Array:
    """Standard normal draws from one column of the points."""
    return _fixed(ndtri(_uniform()[:, column]))


@lru_cache(maxsize=8)
def _skin(prior: SkinPrior) -> Array:
    """What a skin adds to P."""
    u = _uniform()
    has = u[:, 0] < prior.chance
    f = np.exp(math.log(prior.low) + u[:, 1] * math.log(prior.high / prior.low))
    ring = prior.near + u[:, 2] * (prior.far - prior.near)
    return _fixed(np.where(has, (1.0 / f - 1.0) * np.log(ring), 0.0))


@lru_cache(maxsize=8)
def _kept(leak: Leak) -> Array:
    """Share of the flow that the zone takes."""
    return _fixed(1.0 - leak.share(_uniform()[:, 4]))


@lru_cache(maxsize=8)
def _vertical(length: float, radius: float, kv_kh: float, sd_log10: float) -> Array:
    """P at other Kv/Kh less P at that of the test."""
    kv = kv_kh * 10.0 ** (sd_log10 * _normal(3))
    kv = np.clip(kv, 1e-4, max(KV_MOST, kv_kh))
    grid = np.geomspace(kv.min(), kv.max(), 40)
    p = [log_ratio_mean_head(length, radius, kv_kh=float(x)) for x in grid]
    at = log_ratio_mean_head(length, radius, kv_kh=kv_kh)
    return _fixed(np.interp(np.log(kv), np.log(grid), p) - at)


def _fixed(draws: Array) -> Array:
    """The same, not to be written to: many get them."""
    draws.setflags(write=False)
    return draws
