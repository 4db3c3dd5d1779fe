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
MOST_BALANCED, STEPS = 20.0, 80  # [-] the same where water was balanced; steps of the draws
ELEMENT_M = 1.0  # [m] where the length of the element is not told
WALL_M = 0.004  # [m] of the pipe where its outside diameter is not told; common practice
OPEN_HOLE = ("straddle", "below packer", "above packer")
BALANCE_SD = 0.03  # [-] of the share that the balance finds; own computation
BALANCE_SD_SHARE = 0.15  # [-] of that share itself
FEWEST = 8  # readings outside
BLOCKS = 12  # of readings that are averaged before one is called higher than another


@dataclass(frozen=True)
class Leak:
    """What is known of a leak: its share of all water that left the zone.

    `mean` and `sd` [-] of the share where it was balanced, as the balance gives it, below 0 too;
    `chance` [-] that the element leaks at all.
    """

    mean: float = 0.0
    sd: float = 0.0
    chance: float = 0.0
    balanced: bool = False

    def share(self, uniform: Array) -> Array:
        """Draws of the share (n,) [-] from uniform numbers (n,) [-].

        Most elements hold: a balance that finds little speaks for none, one that is coarse leaves
        the chance as it was (Bayes; a leak over the zone's own flow is log-uniform).
        """
        if self.chance <= 0:
            return np.zeros(uniform.size)
        most = MOST_BALANCED if self.balanced else MOST
        edges = np.geomspace(LEAST, most, STEPS + 1)
        value = edges / (1.0 + edges)
        mass = np.full(STEPS, self.chance / STEPS)
        none = 1.0 - self.chance
        if self.balanced:
            sd = max(self.sd, 1e-3)
            middle = 0.5 * (value[1:] + value[:-1])
            log = -0.5 * ((np.append(0.0, middle) - self.mean) / sd) ** 2
            likely = np.exp(log - log.max())
            none, mass = none * float(likely[0]), mass * likely[1:]
        sums = np.append(none, none + np.cumsum(mass)) / (none + mass.sum())
        return np.where(uniform > sums[0], np.interp(uniform, sums, value), 0.0)


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
    return Leak(found, spread, CHANCE, balanced=True)


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
    straight least squares in Gl, Go and c, none of the first two below 0. Water that stands in the
    annulus is a lower bound, whatever the balance says.

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
    used = found > 0
    used[2] |= not used[3]
    apart = float(residual @ residual) / max(t.size / 5.0, 1.0) / t.size
    spread = math.sqrt(apart)
    if used[0]:
        inverse = np.linalg.pinv(rows[:, used].T @ rows[:, used])
        spread = max(spread, math.sqrt(apart * t.size * float(inverse[0, 0])))
    through = found[0] * np.max(one) / scale_1
    return float(area * max(through, _standing(h1))), float(area * spread)


def _standing(head: Array) -> float:
    """Rise that surely stands outside: the highest mean of some readings less the first one [m].

    Single readings scatter: the highest of hundreds would be a rise where there is none.
    """
    blocks = np.array_split(head, max(min(BLOCKS, head.size // 4), 1))
    noise = noise_of(head)
    sure = [float(b.mean()) - 2.0 * noise * math.sqrt(1.0 + 1.0 / b.size) for b in blocks]
    return max(sure) - float(head[0])


def noise_of(head: Array) -> float:
    """Sd of single readings about their course.

    Parameters
    ----------
    head : Array, shape (n,) [m]
        Three or more, in order of time.

    Returns
    -------
    float [m]
        From second differences, by their median.
    """
    return float(np.median(np.abs(np.diff(head, 2)))) / (0.6745 * math.sqrt(6.0))


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
    above, own = open_hole_above(test)
    if above <= 0:
        return 0.0
    length = test.interval_length_m
    deep = (test.top_m or 0.0) - (test.static_depth_m or 0.0) - gap - above
    across = _across(length, above, gap) - _across(length, above, 2.0 * deep + above + gap)
    return float(np.clip(across / (2.0 * length * own), 0.0, 0.5))


def open_hole_above(test: HydraulicTest) -> tuple[float, float]:
    """Wet open hole above the upper element, and its own P under the water table.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths, element and open hole [m].

    Returns
    -------
    tuple of float [m], [-]
        0 and 0 where there is none.
    """
    gap = ELEMENT_M if test.element_length_m is None else test.element_length_m
    wet = (test.top_m or 0.0) - (test.static_depth_m or 0.0) - gap
    above = wet if test.open_above_m is None else min(test.open_above_m, wet)
    if above <= 0.05:
        return 0.0, 0.0
    deep = wet - above  # water table to the open hole
    own = log_ratio_mean_head(above, test.hole_radius_m, kv_kh=test.kv_kh)
    own -= _across(above, above, 2.0 * deep) / (2.0 * above)
    return above, max(own, 0.5)


def _across(one: float, two: float, gap: float) -> float:
    """Double integral of 1/distance along two lines on one axis [m]."""
    ends = (gap + one + two, gap + one, gap + two, gap)
    value = [u * math.log(u) - u if u > 0 else 0.0 for u in ends]
    return value[0] - value[1] - value[2] + value[3]
