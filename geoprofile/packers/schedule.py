"""The order of work in each zone, and the time of the day at which each step falls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Purpose = Literal["hydraulic", "chemistry", "both"]


@dataclass(frozen=True)
class Step:
    """One step of the work: what, how long, and when (`day` from 1, `start_min` after midnight)."""

    what: str
    minutes: float
    day: int = 1
    start_min: float = 0.0

    @property
    def clock(self) -> str:
        """For example `day 1 08:30`."""
        hours, minutes = divmod(round(self.start_min), 60)
        return f"day {self.day} {hours:02d}:{minutes:02d}"


@dataclass(frozen=True)
class Pace:
    """How fast a crew works; the defaults are common practice, no source."""

    start_h: float = 8.0
    hours_a_day: float = 9.0
    set_min: float = 20.0
    pipe_min: float = 3.0
    inflate_min: float = 10.0
    head_min: float = 20.0
    sample_min: float = 20.0
    deflate_min: float = 15.0
    repeats: int = 3
    quick_min: float = 20.0  # a test that takes longer is not repeated
    ready_min: float = 10.0  # of set_min, done while the test of the zone before runs


def steps_for(
    purpose: Purpose,
    *,
    pipes: int,
    purge_s: float,
    test_s: float,
    pace: Pace,
    test_name: str = "slug test",
    is_first: bool = True,
) -> tuple[Step, ...]:
    """The work in one zone, in the order that corrupts nothing: head, sample, withdrawal,
    injection.

    Parameters
    ----------
    purpose : str [-]
        "hydraulic", "chemistry" or "both".
    pipes : int [-]
        Pipes to add or take off for this zone.
    purge_s, test_s : float [s]
        Time of purging, and of one hydraulic test.
    pace : Pace [min]
        How fast the crew works.
    test_name : str [-]
        The test to make.
    is_first : bool [-]
        The first zone; for the others pipes are measured and laid out while a test runs.

    Returns
    -------
    tuple of Step [min]
        Without times of the day.

    Notes
    -----
    Water added before sampling corrupts the sample, so injection comes last and only here. One
    purge serves both: the recovery after it is the first rising-head test. A test slower than
    `quick_min` is not repeated.

    References
    ----------
    Common practice, no source.
    """
    setting = pace.set_min - (0.0 if is_first else min(pace.ready_min, pace.set_min))
    steps = [
        Step("run pipe, set the packer elements on their marks", setting + pace.pipe_min * pipes),
        Step("inflate slowly, watch gauge and levels", pace.inflate_min),
        Step("wait for a steady static head; note it", pace.head_min),
    ]
    if purpose != "hydraulic":
        steps.append(Step("purge until volume and readings are met", purge_s / 60.0))
        steps.append(Step("take the samples", pace.sample_min))
    if purpose != "chemistry":
        each = max(test_s / 60.0, 1.0)
        repeats = pace.repeats if each <= pace.quick_min else 1
        words = _test_words(test_name, repeats)
        if purpose == "both" and test_name == "slug test":
            words = f"record the recovery after purging, the first of them; {words}"
            if repeats == 1:
                words = "record the recovery after purging as the one slug test: too slow to repeat"
        steps.append(Step(words, each * repeats))
    steps.append(
        Step("vent, check that the packer elements are slack, then move", pace.deflate_min)
    )
    return tuple(steps)


def _test_words(test_name: str, repeats: int) -> str:
    """What to do for a kind of test; withdrawal goes before injection."""
    if test_name == "constant head":
        return "constant-head injection, after all sampling of this zone and its neighbours"
    if test_name == "pressure pulse":
        count = "one pressure pulse" if repeats == 1 else f"{repeats} pressure pulses"
        return f"{count}, shut in; withdrawal pulses first"
    if repeats == 1:
        return "one slug test, rising head: too slow to repeat"
    return f"{repeats} slug tests: rising head first, falling head last, first size repeated"


def with_times(zones: Sequence[Sequence[Step]], pace: Pace) -> tuple[tuple[Step, ...], ...]:
    """The same steps with day and time; a zone that does not fit into the day waits for the next.

    Parameters
    ----------
    zones : sequence of sequence of Step [min]
        Work zone by zone.
    pace : Pace [min]
        Start and length of the day.

    Returns
    -------
    tuple of tuple of Step [min]
        Zones longer than a day begin in the morning and run on into the next days.

    References
    ----------
    Common practice, no source.
    """
    start, length = 60.0 * pace.start_h, 60.0 * pace.hours_a_day
    day, now = 1, 0.0
    timed: list[tuple[Step, ...]] = []
    for steps in zones:
        needed = sum(s.minutes for s in steps)
        if now > 0 and now + needed > length:
            day, now = day + 1, 0.0
        placed = []
        for step in steps:
            placed.append(Step(step.what, step.minutes, day, start + now))
            now += step.minutes
            while now >= length:  # left packed overnight
                day, now = day + 1, now - length
        timed.append(tuple(placed))
    return tuple(timed)
