"""Whether the repeats of one interval agree: normalised heads laid over each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.readings import Treated, treat
from geoprofile.hydraulics.tests import HydraulicTest, RepeatCheck

COINCIDE = 0.05  # [-] largest gap of H/H0; common practice, no source
LAG_CHANGE = 0.15  # [-] change of time lag that counts; common practice, no source
DISPLACEMENT_FACTOR = 1.8  # [-] between the displacements of a fair comparison; nominally two


def repeat_check(tests: Sequence[HydraulicTest]) -> RepeatCheck:
    """Lay the normalised heads of repeats over each other.

    Parameters
    ----------
    tests : sequence of HydraulicTest [-]
        Slug tests of one interval in the order in which they were made.

    Returns
    -------
    RepeatCheck [-]
        Whether they coincide, their largest gap [-], and whether the response depends on the
        displacement; every finding in words.

    References
    ----------
    Butler, McElwee and Liu (1996), from memory; limits are common practice.
    """
    kept: list[tuple[HydraulicTest, Treated]] = []
    notes = []
    for test in tests:
        try:
            kept.append((test, treat(test)))
        except DataError as fault:
            notes.append(f"{test.test} left out: {fault.problem.found}")
    names = tuple(test.test for test, _ in kept)
    if len(kept) < 2:
        notes.append("fewer than two repeats: nothing to compare")
        return RepeatCheck(names, None, None, False, tuple(notes))
    spread = _largest_gap([treated for _, treated in kept])
    noise = max(t.noise_m / t.initial_m for _, t in kept)
    coincide = spread <= COINCIDE + 6.0 * noise
    depends = _depends_on_displacement([t for _, t in kept], notes)
    if not coincide:
        notes.append(f"normalised heads of the repeats differ by up to {100 * spread:.0f} %")
    if len(kept) < 3:
        notes.append("fewer than three repeats")
    _judge_order(kept, depends, notes)
    return RepeatCheck(names, coincide, spread, depends, tuple(notes))


def _largest_gap(repeats: Sequence[Treated]) -> float:
    """Largest gap between any two normalised heads while all were read [-]."""
    last = min(t.time_s[-1] for t in repeats)
    grid = np.linspace(0.0, last, 200)
    curves = np.stack([np.interp(grid, t.time_s, t.normalised) for t in repeats])
    kernel = np.full(5, 0.2)
    smooth = np.stack([np.convolve(c, kernel, mode="valid") for c in curves])
    return float(np.max(np.ptp(smooth, axis=0)))


def _depends_on_displacement(repeats: Sequence[Treated], notes: list[str]) -> bool:
    """Whether the time lag changes with H0; two H0 a factor of two apart are needed."""
    order = sorted(repeats, key=lambda t: t.initial_m)
    small, large = order[0], order[-1]
    if large.initial_m < DISPLACEMENT_FACTOR * small.initial_m:
        notes.append("all repeats have about the same displacement: linearity is not shown")
        return False
    change = large.lag_s / small.lag_s - 1.0
    if abs(change) <= LAG_CHANGE:
        return False
    notes.append(
        f"the larger displacement recovers {'slower' if change > 0 else 'faster'} by "
        f"{100 * abs(change):.0f} %: turbulence, a changing interval or a water table that is "
        "crossed"
    )
    return True


def _judge_order(
    kept: Sequence[tuple[HydraulicTest, Treated]], depends: bool, notes: list[str]
) -> None:
    """A lag that grows or falls from repeat to repeat, and pairs of rising and falling heads."""
    lags = np.array([treated.lag_s for _, treated in kept])
    steps = np.diff(np.log(lags))
    if len(lags) > 2 and not depends and (np.all(steps > 0.05) or np.all(steps < -0.05)):
        way = "slower" if steps[0] > 0 else "faster"
        notes.append(f"repeats get {way} in sequence: fines move, the zone is not developed")
    falling = lags[[test.kind == "falling head" for test, _ in kept]]
    rising = lags[[test.kind == "rising head" for test, _ in kept]]
    if falling.size and rising.size:
        change = float(np.mean(np.log(falling)) - np.mean(np.log(rising)))
        if abs(change) > LAG_CHANGE:
            notes.append("falling and rising heads differ: a skin that moves, or drainage")
