"""Water that passes the element: its share of the flow from the water balance outside the zone.

The level outside rises in an annulus of area A1 by what leaks in and falls by what the open hole
loses: A1 dh1/dt = Gl (H - h1) - Go h1. The ground itself carries water round the element into the
open hole; potential theory of two lines on one axis says how much, and that is taken off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.tests import Array, HydraulicTest

CHANCE = 0.15  # [-] that an element leaks where nobody looked; common practice, no source
LEAST, MOST = 0.05, 1.0  # [-] of the zone's own flow, where it does
ELEMENT_M = 1.0  # [m] where the length of the element is not told
WALL_M = 0.004  # [m] of the pipe where its outside diameter is not told; common practice
OPEN_HOLE = ("straddle", "below packer", "above packer")
BALANCE_SD = 0.03  # [-] of the share that the balance finds; own computation
BALANCE_SD_SHARE = 0.15  # [-] of that share itself
FEWEST = 8  # readings outside


@dataclass(frozen=True)
class Leak:
    """What is known of a leak: its share of all water that left the zone, and the words.

    `mean` and `sd` [-] of the share where it was balanced; `chance` [-] of one where nobody looked.
    """

    mean: float = 0.0
    sd: float = 0.0
    chance: float = 0.0
    balanced: bool = False

    def share(self, uniform: Array) -> Array:
        """Draws of the share (n,) [-] from uniform numbers (n,) [-]."""
        from scipy.special import ndtri

        if self.balanced:
            return np.asarray(np.clip(self.mean + self.sd * ndtri(uniform), 0.0, 0.95))
        if self.chance <= 0:
            return np.zeros(uniform.size)
        inside = np.clip((uniform - (1.0 - self.chance)) / self.chance, 0.0, 1.0)
        ratio = LEAST * (MOST / LEAST) ** inside
        return np.where(uniform > 1.0 - self.chance, ratio / (1.0 + ratio), 0.0)


def leak_of(test: HydraulicTest, time: Array, head: Array, outside: Array | None) -> Leak:
    """The leak of one slug test.

    Parameters
    ----------
    test : HydraulicTest [-]
        Radii, isolation and open hole [m].
    time, head : Array, shape (n,) [s], [m]
        Readings in the zone since the start, above 0 at the start.
    outside : Array, shape (n,) [m]
        Read at the same times with the same sign, or None.

    Returns
    -------
    Leak [-]
        Balanced where the readings outside allow it, else a chance; none where there is no element.
    """
    if test.isolation not in OPEN_HOLE:
        return Leak()
    if outside is None or np.count_nonzero(np.isfinite(outside)) < FEWEST:
        return Leak(chance=CHANCE)
    area = annulus_m2(test)
    riser = test.effective_riser_radius_m
    if area is None or not riser:
        return Leak(chance=CHANCE)
    passed, sd = passed_volume(time, head, outside, area)
    left = math.pi * riser**2 * (head[0] - head[-1])
    share = passed / left
    ground = ground_share(test)
    found = share - ground
    spread = math.hypot(BALANCE_SD, BALANCE_SD_SHARE * share, sd / left)
    return Leak(max(found, 0.0), spread, balanced=True)


def annulus_m2(test: HydraulicTest) -> float | None:
    """Area of the water surface between hole and pipe.

    Parameters
    ----------
    test : HydraulicTest [-]
        Radii [m].

    Returns
    -------
    float [m2]
        None when the pipe fills the hole or is not known.
    """
    outer = test.riser_outer_radius_m
    if outer is None:
        if test.riser_radius_m is None:
            return None
        outer = test.riser_radius_m + WALL_M
    area = math.pi * (test.hole_radius_m**2 - outer**2)
    return area if area > 0 else None


def passed_volume(time: Array, head: Array, outside: Array, area: float) -> tuple[float, float]:
    """Water that passed into the annulus, by fitting its balance to the readings.

    Parameters
    ----------
    time : Array, shape (n,) [s]
        Since the start.
    head, outside : Array, shape (n,) [m]
        In the zone and outside.
    area : float [m2]
        Of the annulus.

    Returns
    -------
    tuple of float [m3]
        Volume and its sd.

    Notes
    -----
    Integrated: A1 h1(t) = Gl I1(t) - Go I2(t) + c, I1 the integral of H - h1 and I2 that of h1; a
    straight least squares in Gl, Go and c, none of the first two below 0.

    References
    ----------
    Own derivation.
    """
    from scipy.optimize import nnls

    good = np.isfinite(outside)
    t, h, h1 = time[good], head[good], outside[good]
    step = np.diff(t)
    one = np.append(0.0, np.cumsum(0.5 * step * ((h - h1)[1:] + (h - h1)[:-1])))
    two = np.append(0.0, np.cumsum(0.5 * step * (h1[1:] + h1[:-1])))
    scale_1, scale_2 = max(np.abs(one).max(), 1e-12), max(np.abs(two).max(), 1e-12)
    rows = np.stack((one / scale_1, -two / scale_2, np.ones(t.size), -np.ones(t.size)), axis=1)
    found, _ = nnls(rows, h1)
    residual = h1 - rows @ found
    spread = float(np.std(residual)) / math.sqrt(max(t.size / 5.0, 1.0))
    return float(area * found[0] * one[-1] / scale_1), float(area * spread)


def ground_share(test: HydraulicTest) -> float:
    """Share of the zone's flow that the ground carries round the element into the open hole.

    Parameters
    ----------
    test : HydraulicTest [-]
        Length of zone, element and open hole above [m], Kv/Kh.

    Returns
    -------
    float [-]
        0.02 to 0.3 in common set-ups.

    Notes
    -----
    Two lines on one axis under a water table (images), even flow along each: the upper one, whose
    head hardly moves, takes I / (2 L P) of what the zone gives, I the double integral of
    1/distance, L the length of the zone, P that of the upper line.

    References
    ----------
    Own derivation from the potential of a line.
    """
    gap = ELEMENT_M if test.element_length_m is None else test.element_length_m
    static, top = test.static_depth_m or 0.0, test.top_m or 0.0
    above = test.open_above_m
    if above is None:
        above = top - static - gap
    above = min(above, top - static - gap)
    if above <= 0.05:
        return 0.0
    length, radius = test.interval_length_m, test.hole_radius_m
    deep = top - static - gap - above  # water table to the open hole
    across = _across(length, above, gap) - _across(length, above, 2.0 * deep + above + gap)
    own = log_ratio_mean_head(above, radius, kv_kh=test.kv_kh)
    own -= _across(above, above, 2.0 * deep) / (2.0 * above)
    return float(np.clip(across / (2.0 * length * max(own, 0.5)), 0.0, 0.5))


def _across(one: float, two: float, gap: float) -> float:
    """Double integral of 1/distance along two lines on one axis [m]."""
    ends = (gap + one + two, gap + one, gap + two, gap)
    value = [u * math.log(u) - u if u > 0 else 0.0 for u in ends]
    return value[0] - value[1] - value[2] + value[3]


def step_leak(test: HydraulicTest) -> Leak:
    """The leak of a test in pressure steps: bounded where heads outside were read.

    Parameters
    ----------
    test : HydraulicTest [-]
        With its steps.

    Returns
    -------
    Leak [-]
        A rise outside that stays small says that little passes; how little the open hole decides.
    """
    if test.isolation not in OPEN_HOLE:
        return Leak()
    read = [s for s in test.pressure_steps if s.outside_head_m is not None]
    if not read:
        return Leak(chance=CHANCE)
    return Leak(chance=CHANCE if any(abs(s.outside_head_m or 0.0) > 0.1 for s in read) else 0.03)
