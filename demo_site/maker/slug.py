"""Forward models of single-zone tests, by routes that the analysing code does not take.

The transient model is the boundary-value problem of a partially penetrating interval below a water
table (set up as in Hyder et al. 1994, Water Resources Research 30, 2945; the modal solution is
derived, from memory), inverted with Stehfest's weights on the real axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import factorial

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.special import k0e, k1e

GRAVITY = 9.80665  # [m/s2]
STEHFEST_TERMS = 14
MODES = 300  # modes whose storage term is kept
ALL_MODES = 16_000


@dataclass(frozen=True)
class Zone:
    """What the model needs to know of one isolated interval; depths below the water table."""

    conductivity_m_per_s: float
    specific_storage_per_m: float
    kv_kh: float
    top_m: float
    bottom_m: float
    base_m: float
    hole_radius_m: float
    riser_radius_m: float

    @property
    def length_m(self) -> float:
        """Length of the open interval."""
        return self.bottom_m - self.top_m


@cache
def stehfest_weights(terms: int) -> np.ndarray:
    """Stehfest (1970) weights V_1..V_N, from memory; N is even."""
    half = terms // 2
    weights = []
    for i in range(1, terms + 1):
        total = 0.0
        for k in range((i + 1) // 2, min(i, half) + 1):
            below = factorial(half - k) * factorial(k) * factorial(k - 1)
            below *= factorial(i - k) * factorial(2 * k - i)
            total += k**half * factorial(2 * k) / below
        weights.append((-1) ** (half + i) * total)
    return np.array(weights)


def modes(zone: Zone, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Wave numbers [1/m] and weights [-] of the modes: no head change on top, no flow below."""
    k = (np.arange(count) + 0.5) * np.pi / zone.base_m
    part = (np.cos(k * zone.top_m) - np.cos(k * zone.bottom_m)) / k
    return k, 2.0 / (zone.length_m * zone.base_m) * part**2


def radial_factor(rate: np.ndarray, radius: float) -> np.ndarray:
    """K0(x)/(x K1(x)) with x = rate times radius."""
    x = rate * radius
    return k0e(x) / (x * k1e(x))


def steady_factor(zone: Zone) -> float:
    """P in Q = 2 pi K L H / P at steady flow [-]."""
    k, weight = modes(zone, ALL_MODES)
    return float(np.sum(weight * radial_factor(k * np.sqrt(zone.kv_kh), zone.hole_radius_m)))


def transfer(zone: Zone, p: np.ndarray) -> np.ndarray:
    """G(p) [s]: head over flow in Laplace space, in units of the riser's area; `p` any shape."""
    k, weight = modes(zone, ALL_MODES)
    storage = zone.specific_storage_per_m * p[..., None] / zone.conductivity_m_per_s
    rate = np.sqrt(storage + zone.kv_kh * k[:MODES] ** 2)
    total = np.sum(weight[:MODES] * radial_factor(rate, zone.hole_radius_m), axis=-1)
    # In the short modes flow across the layers swamps storage.
    rest = k[MODES:] * np.sqrt(zone.kv_kh)
    total = total + np.sum(weight[MODES:] * radial_factor(rest, zone.hole_radius_m))
    scale = zone.riser_radius_m**2 / (2.0 * zone.length_m * zone.conductivity_m_per_s)
    return scale * total


def time_scale(zone: Zone) -> float:
    """Basic time lag [s] at steady flow."""
    scale = zone.riser_radius_m**2 / (2.0 * zone.length_m * zone.conductivity_m_per_s)
    return scale * steady_factor(zone)


def transient(zone: Zone, time: np.ndarray) -> np.ndarray:
    """Normalised head [-] at times (n,) [s] >= 0 with storage in the ground."""
    lag = time_scale(zone)
    last = max(float(time[-1]), 2.0 * lag)
    nodes = np.geomspace(1e-3 * lag, last * 1.001, 48)
    i = np.arange(1, STEHFEST_TERMS + 1)
    p = np.log(2.0) * i / nodes[:, None]
    g = transfer(zone, p)
    head = np.log(2.0) / nodes * np.sum(stehfest_weights(STEHFEST_TERMS) * g / (1 + p * g), axis=1)
    curve = CubicSpline(np.log(nodes), head)
    early = 1.0 - (1.0 - head[0]) * time / nodes[0]
    return np.where(time < nodes[0], early, curve(np.log(np.maximum(time, nodes[0]))))


def damping(zone: Zone, column_m: float) -> float:
    """Damping number C_D [-]; below 2 the level oscillates through static."""
    return float(np.sqrt(GRAVITY / column_m)) * time_scale(zone)


def inertial(zone: Zone, time: np.ndarray, column_m: float) -> np.ndarray:
    """Normalised head [-] of a moving column with steady flow, as an initial-value problem."""
    lag = time_scale(zone)

    def motion(_: float, state: np.ndarray) -> list[float]:
        level, speed = state
        return [speed, -GRAVITY / column_m * (level + lag * speed)]

    run = solve_ivp(motion, (0.0, float(time[-1])), [1.0, 0.0], t_eval=time, rtol=1e-9, atol=1e-11)
    return run.y[0]


def leaking(
    zone: Zone, time: np.ndarray, *, leak_s: float, annulus_ratio: float
) -> tuple[np.ndarray, np.ndarray]:
    """Normalised heads [-] in the zone and above the upper packer element when water passes the
    packer element.

    `leak_s` [s] is the time in which the leak alone would empty the riser into the annulus,
    `annulus_ratio` [-] the annulus' area over the riser's; the annulus drains into rock of the
    zone's own conductivity.
    """
    lag = time_scale(zone)

    def motion(_: float, state: np.ndarray) -> list[float]:
        inside, outside = state
        leak = (inside - outside) / leak_s
        return [-inside / lag - leak, leak / annulus_ratio - outside / (2.0 * lag)]

    run = solve_ivp(motion, (0.0, float(time[-1])), [1.0, 0.0], t_eval=time, rtol=1e-9, atol=1e-11)
    return run.y[0], run.y[1]
