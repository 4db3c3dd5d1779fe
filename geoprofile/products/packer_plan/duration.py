"""How long the field work of a plan takes: the times of the day, a range of days, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from geoprofile import packers
from geoprofile.packers import Purpose, Step
from geoprofile.products.packer_plan.plan import Choices, Visit

USUAL, QUICK, SLOW = "usual", "quick", "slow"


def timed(visits: Sequence[Visit], purpose: Purpose, kept: Choices) -> tuple[Visit, ...]:
    """The visits with their steps at times of the day."""
    placed = _placed(visits, purpose, kept, USUAL)
    return tuple(replace(v, steps=s) for v, s in zip(visits, placed, strict=True))


def days_between(visits: Sequence[Visit], purpose: Purpose, kept: Choices) -> tuple[int, int]:
    """Fewest and most days: K at the upper and lower end of what is expected.

    Parameters
    ----------
    visits : sequence of Visit
        In the order of the work.
    purpose : Purpose
        What the plan is for.
    kept : Choices
        With the pace of the crew.

    Returns
    -------
    tuple of int, int
        Working days.
    """
    ends = []
    for case in (QUICK, SLOW):
        placed = _placed(visits, purpose, kept, case)
        ends.append(max((step.day for steps in placed for step in steps), default=0))
    return min(ends), max(ends)


def assumptions(visits: Sequence[Visit], purpose: Purpose, kept: Choices) -> tuple[str, ...]:
    """What the days rest on, for the client who signs them."""
    pace, rules = kept.pace, []
    rules.append(
        f"two people, {pace.hours_a_day:g} h a day in the hole; the next zone's pipes are measured"
        " and laid out while a test runs"
    )
    if purpose != "hydraulic":
        hours = kept.longest_purge_s / 3600.0
        rules.append(f"one purge per zone serves sample and test, at most {hours:g} h of pumping")
    if purpose != "chemistry":
        rules.append(
            f"stop rule by K: a test that has not recovered by half after {pace.quick_min:g} min is"
            f" the only one of its zone; a faster one is made {pace.repeats} times"
        )
    if any(visit.k is None for visit in visits):
        rules.append(
            "K is not known: the fewest days hold if every zone yields what the pump takes, the"
            " most if every zone needs its longest purge and test"
        )
    rules.append("mobilisation, drilling, weather, access and decontamination are not counted")
    return tuple(rules)


def _placed(
    visits: Sequence[Visit], purpose: Purpose, kept: Choices, case: str
) -> tuple[tuple[Step, ...], ...]:
    before = 0
    zones = []
    for place, visit in enumerate(visits):
        purge_s, test_s = _times(visit, kept, case)
        zones.append(
            packers.steps_for(
                purpose,
                pipes=abs(visit.tally.pipes - before),
                purge_s=purge_s,
                test_s=test_s,
                pace=kept.pace,
                test_name=visit.choice.method or "slug test",
                is_first=place == 0,
            )
        )
        before = visit.tally.pipes
    return packers.with_times(zones, kept.pace)


def _times(visit: Visit, kept: Choices, case: str) -> tuple[float, float]:
    """Time of purging and of one test [s]: with K the time goes as 1/K, without it by the rule."""
    quick_s = 60.0 * kept.pace.quick_min
    pumped = min(visit.purge.time_s(kept.pump_m3_s), kept.longest_purge_s)
    if visit.k is None:
        if case == SLOW:
            return kept.longest_purge_s, visit.choice.stop_s
        return pumped, min(visit.choice.stop_s, quick_s)
    k = visit.k
    at = {USUAL: k.median_m_per_s, QUICK: k.high_m_per_s, SLOW: k.low_m_per_s}[case]
    factor = k.median_m_per_s / at
    purge_s = min(max(visit.purge_s * factor, pumped), kept.longest_purge_s)
    return purge_s, visit.choice.stop_s * factor
