"""Water that passes the element: its share of the flow from the water balance outside the zone.

The level outside rises in an annulus of area A1 by what leaks in and falls by what the open hole
loses: A1 dh1/dt = Gl (H - h1) - Go h1. The ground itself carries water round the element into the
open hole; potential theory of two lines on one axis says how much, and that is taken off.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import trapezoid

from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.tests import Array, HydraulicTest
from geoprofile.hydraulics.water_balance import Balance, passed_share

CHANCE = 0.15  # [-] that an element leaks where nobody looked; common practice, no source
LEAST, MOST = 0.05, 1.0  # [-] of the zone's own flow, where it does
MOST_BALANCED, STEPS = 20.0, 80  # [-] the same where water was balanced; steps of the draws
ELEMENT_M = 1.0  # [m] where the length of the element is not told
WALL_M = 0.004  # [m] of the pipe where its outside diameter is not told; common practice
OPEN_HOLE = ("straddle", "below packer", "above packer")
BALANCE_SD = 0.03  # [-] of the share that the balance finds; own computation
BALANCE_SD_SHARE = 0.15  # [-] of that share itself
FEWEST = 8  # readings outside
SPANS = 60  # of the balance of one recovery
BLOCKS = 12  # of readings, averaged before one is called higher than the first
OUTSIDE_SD = 0.03  # [-] of the highest level outside: what the balance leaves out
# [-] of what potential theory lets the ground carry into the open hole, a balance with one level
# sees this part, the rest passes in and out unseen: own finite-volume runs
SEEN = 0.5
GROUND_SD = 0.6  # [-] of what the ground carries round the element: layers, skin


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
    area, riser = annulus_m2(test), test.effective_riser_radius_m
    above, own = open_hole_above(test)
    good = None if outside is None else np.isfinite(outside)
    if good is None or outside is None or np.count_nonzero(good) < FEWEST:
        return Leak(chance=CHANCE)
    if area is None or not riser:
        return Leak(chance=CHANCE)
    balance = _slug_balance(time[good], head[good], outside[good], math.pi * riser**2, area)
    if balance is None:
        return Leak(chance=CHANCE)
    conductance = balance.volume_m3 / float((balance.head_m * balance.seconds).sum())
    share, spread = passed_share(balance, conductance, loss_ratio(test, above, own))
    stands = area * _standing(outside[good]) / balance.volume_m3
    return without_ground(test, max(share, min(stands, 1.0)), spread)


def _standing(head: Array) -> float:
    """Rise that surely stood outside, whatever the balance says [m].

    The highest mean of some readings less the first: the highest of hundreds of single readings
    would be a rise where there is none.
    """
    blocks = np.array_split(head, max(min(BLOCKS, head.size // 4), 1))
    noise = noise_of(head)
    sure = [float(b.mean()) - 2.0 * noise * math.sqrt(1.0 + 1.0 / b.size) for b in blocks]
    return max(sure) - float(head[0])


def _slug_balance(
    time: Array, head: Array, outside: Array, surface: float, area: float
) -> Balance | None:
    """Spans of a recovery; None where the level in the zone did not fall."""
    count = min(SPANS, time.size - 1)
    cut = np.unique(np.round(np.linspace(0, time.size - 1, count + 1)).astype(int))
    spans = [slice(i, j + 1) for i, j in itertools.pairwise(cut)]
    volume = surface * float(head[spans[0]][0] - np.mean(head[spans[-1]]))
    if volume <= 0 or np.any(np.diff(time[cut]) <= 0):
        return None
    means = np.array([trapezoid(head[s], time[s]) / np.ptp(time[s]) for s in spans])
    read = np.array([trapezoid(outside[s], time[s]) / np.ptp(time[s]) for s in spans])
    size = np.array([s.stop - s.start for s in spans])
    sd = np.hypot(noise_of(outside) / np.sqrt(size), OUTSIDE_SD * float(np.max(np.abs(read))))
    return Balance(np.diff(time[cut]), means, read, np.maximum(sd, 1e-4), volume, area, True)


def loss_ratio(test: HydraulicTest, above: float, own: float) -> float:
    """What the open hole above loses per metre of head over what the zone itself does.

    Parameters
    ----------
    test : HydraulicTest [-]
        Length and radius [m].
    above, own : float [m], [-]
        Of the open hole: length and P.

    Returns
    -------
    float [-]
        From the lengths alone, as if K were the same; 0 where casing stands on the element.
    """
    if above <= 0:
        return 0.0
    length = test.interval_length_m
    p = log_ratio_mean_head(length, test.hole_radius_m, kv_kh=test.kv_kh)
    return p / length * above / own


def without_ground(test: HydraulicTest, share: float, spread: float) -> Leak:
    """The leak when what the ground carries round the element is taken off.

    Parameters
    ----------
    test : HydraulicTest [-]
        Geometry.
    share, spread : float [-]
        From the balance.

    Returns
    -------
    Leak [-]
        Balanced.
    """
    ground = SEEN * ground_share(test)
    found = (share - ground) / (1.0 - ground)  # the ground carries its part of what the leak leaves
    sd = math.hypot(BALANCE_SD, BALANCE_SD_SHARE * share, spread, GROUND_SD * ground)
    return Leak(found, sd, CHANCE, balanced=True)


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
