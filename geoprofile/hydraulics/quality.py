"""What makes a test accepted, qualified or rejected, told in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from geoprofile.hydraulics.leak import Leak
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.tests import GRADES, Grade, HydraulicTest

BALANCE_DOUBT, BALANCE_REJECT = 0.10, 0.50  # [-] of the water; common practice, no source
LEAK_DOUBT, LEAK_REJECT = 0.01, 0.05  # [-] outside over zone; common practice, no source
STOP_DOUBT, STOP_REJECT = 0.25, 0.75  # [-] normalised head at the end
RIPPLE = 0.15  # [-] of H0, largest dip that may be a ripple; common practice, no source
EARLY_READINGS = 5  # before 37 %; common practice, no source


@dataclass(frozen=True)
class Verdict:
    """A grade and the words behind it."""

    grade: Grade
    notes: tuple[str, ...]


def worst(*grades: Grade) -> Grade:
    """The lowest of several grades.

    Parameters
    ----------
    *grades : str [-]
        accepted, qualified or rejected.

    Returns
    -------
    str [-]
        The worst; accepted when none is given.
    """
    return GRADES[max((GRADES.index(g) for g in grades), default=0)]


def leak_ratio(test: HydraulicTest, scale_m: float) -> float | None:
    """Largest response outside the zone over the displacement inside.

    Parameters
    ----------
    test : HydraulicTest [-]
        With `outside_displacement_m` (n,) [m], else None comes back.
    scale_m : float [m]
        Displacement in the zone.

    Returns
    -------
    float [-]
        The ratio, or None when nothing was measured outside.
    """
    outside = test.outside_displacement_m
    if outside is None or outside.size == 0 or not np.isfinite(outside).any():
        return None
    seen = outside[np.isfinite(outside)]
    kernel = min(5, seen.size)
    smooth = np.convolve(seen, np.full(kernel, 1.0 / kernel), mode="valid")
    return float(np.max(np.abs(smooth - seen[0])) / scale_m)


def judge_leak(ratio: float | None) -> Verdict:
    """Grade of the seal.

    Parameters
    ----------
    ratio : float [-]
        Outside over zone, or None.

    Returns
    -------
    Verdict [-]
        Rejected above 5 %, qualified above 1 %; common practice, no source.
    """
    if ratio is None:
        return Verdict("accepted", ())
    words = f"pressure outside moved by {100 * ratio:.1f} % of the zone"
    if ratio > LEAK_REJECT:
        return Verdict("rejected", (f"{words}: water passes the packer element",))
    if ratio > LEAK_DOUBT:
        return Verdict("qualified", (f"{words}: some water may pass the packer element",))
    return Verdict("accepted", (f"{words}: the seal holds",))


def judge_balance(leak: Leak) -> Verdict:
    """Grade of the seal from the water balance outside the zone.

    Parameters
    ----------
    leak : Leak [-]
        Share of the flow that passed the element.

    Returns
    -------
    Verdict [-]
        Rejected where about half or more surely passed, qualified above 10 %: K is corrected, and
        wider.

    References
    ----------
    Limits are common practice, no source.
    """
    if not leak.balanced:
        return Verdict("accepted", ())
    mean, sd = 100 * max(leak.mean, 0.0), 100 * leak.sd
    words = f"{mean:.0f} % +- {sd:.0f} % of the water passed the element"
    if leak.mean - leak.sd >= BALANCE_REJECT - BALANCE_DOUBT:
        return Verdict("rejected", (f"{words}: the zone itself took about half or less",))
    if leak.mean > max(BALANCE_DOUBT, 2.0 * leak.sd):
        return Verdict("qualified", (f"{words}: K is corrected for it and wider",))
    if leak.mean + leak.sd > 2.0 * BALANCE_DOUBT:
        coarse = f"{words}: too coarse to tell whether the seal holds"
        return Verdict("accepted", (f"{coarse}, the interval holds the chance that it does not",))
    return Verdict("accepted", (f"{words}: the seal holds",))


@lru_cache(maxsize=16)  # every method asks, one test after the other
def judge_readings(test: HydraulicTest, treated: Treated, *, level_share: float = 1.0) -> Verdict:
    """Grade of a slug or pulse test from its readings alone.

    Parameters
    ----------
    test : HydraulicTest [-]
        As recorded.
    treated : Treated [-]
        Its readings [s], [m].
    level_share : float [-]
        Of H0 that is left when a filter pack has shared its water with the riser.

    Returns
    -------
    Verdict [-]
        Worst of all checks, every reason in words.

    References
    ----------
    Butler, McElwee and Liu (1996), Butler (1998), from memory; limits are common practice.
    """
    grades: list[Grade] = ["accepted"]
    notes = [*treated.doubts, *treated.remarks]
    if test.kind == "pressure pulse":  # no free level outside to balance
        leak = judge_leak(leak_ratio(test, treated.initial_m))
        grades, notes = [leak.grade], [*leak.notes, *notes]
    if treated.doubts:
        grades.append("qualified")
    if treated.lowest > STOP_DOUBT:
        grades.append("rejected" if treated.lowest > STOP_REJECT else "qualified")
        notes.append(f"stopped early: {100 * treated.lowest:.0f} % of H0 were left at the end")
    early = int(np.count_nonzero(treated.normalised > level_share * np.exp(-1.0)))
    if early < EARLY_READINGS:
        grades.append("qualified")
        notes.append(f"only {early} readings before 37 % of H0")
    for words in (_steps(treated), _far_off(test, treated), _left_over(treated)):
        if words:
            grades.append("rejected" if words.startswith("!") else "qualified")
            notes.append(words.lstrip("!"))
    return Verdict(worst(*grades), tuple(notes))


def _steps(treated: Treated) -> str:
    """Jumps against the recovery: trapped air, a moved sensor, a valve."""
    rise = np.diff(treated.head_m)
    limit = max(8.0 * treated.noise_m, 0.02 * treated.initial_m)
    if is_underdamped(treated):
        return ""
    count = int(np.count_nonzero(rise > limit))
    return f"{count} jumps against the recovery: trapped air or a moved sensor" if count else ""


def _far_off(test: HydraulicTest, treated: Treated) -> str:
    """An H0 far off the expected one makes K worthless, not only doubtful."""
    if test.expected_displacement_m is None:
        return ""
    gap = treated.initial_m / abs(test.expected_displacement_m) - 1.0
    if gap < 0 and treated.radius_chance < 0.5:  # began late: the bounds span both
        return ""
    return "!H0 is more than 30 % off: K would be as wrong" if abs(gap) > 0.30 else ""


def _left_over(treated: Treated) -> str:
    """A level that settles away from static: a wrong static level or a trend."""
    count = max(5, treated.head_m.size // 10)
    tail = treated.head_m[-count:]
    if tail.size < 5 or is_underdamped(treated):
        return ""
    rest = float(np.median(tail)) / treated.initial_m
    still = abs(np.median(tail[: count // 2]) - np.median(tail[count // 2 :]))
    flat = still < max(treated.noise_m, 0.1 * abs(rest) * treated.initial_m * 0.2)
    noise = 4 * treated.noise_m / treated.initial_m / np.sqrt(count)
    if treated.time_s[-1] > 4 * treated.lag_s and flat and abs(rest) > max(0.03, noise):
        return f"the level settled {100 * rest:.1f} % of H0 away from static"
    return ""


def _is_ripple(treated: Treated, depth: float) -> bool:
    """Whether small dips go on to the end: waves or a pump, not a column that comes to rest."""
    if depth > RIPPLE * treated.initial_m:
        return False
    head = treated.head_m
    last = head[-max(8, head.size // 3) :]
    line = np.polyval(np.polyfit(np.arange(last.size), last, 1), np.arange(last.size))
    return bool(np.sqrt(2.0) * np.std(last - line) > 0.4 * depth)


@lru_cache(maxsize=8)  # every method asks, one test after the other
def is_underdamped(treated: Treated) -> bool:
    """Whether the level oscillates through the static level.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m], positive at the start.

    Returns
    -------
    bool [-]
        True when it dips below static by more than noise and 2 % of H0 and comes back, or passes
        through and falls below -8 %.
    """
    head, limit = treated.head_m, max(5 * treated.noise_m, 0.02 * treated.initial_m)
    dip = int(np.argmin(head))
    if head[dip] > -limit or _is_ripple(treated, -float(head[dip])):
        return False
    comes_back = bool(np.max(head[dip:]) > head[dip] + limit)
    rest = float(np.median(head[-max(3, head.size // 20) :]))
    return comes_back and rest > head[dip] + 0.5 * limit
