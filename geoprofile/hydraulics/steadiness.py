"""Whether the flow of each pressure step had come to rest, from its course or its duration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoprofile.hydraulics.tests import HydraulicTest

CHANGE = 0.05  # [-] of the flow over the second half of a step; common practice, no source
SHORTEST_MIN = 5.0  # [min] of a step; common practice, no source
FEWEST = 4  # readings of the flow within a step


@dataclass(frozen=True)
class Steadiness:
    """Largest change of flow over the second half of any step [-]; None without a course."""

    worst: float | None
    change: tuple[float | None, ...]
    notes: tuple[str, ...]


def steadiness_of(test: HydraulicTest) -> Steadiness:
    """Judge the steps of a constant-head test.

    Parameters
    ----------
    test : HydraulicTest [-]
        With its steps, their courses of flow [m3/s] and minutes.

    Returns
    -------
    Steadiness [-]
        Changes and what a reader must know.
    """
    changes: list[float | None] = []
    notes = []
    for step in test.pressure_steps:
        time, flow = np.array(step.flow_time_s), np.array(step.flow_course_m3_per_s)
        if time.size < FEWEST or not np.any(flow > 0):
            changes.append(None)
            continue
        late = time >= 0.5 * (time[0] + time[-1])
        slope = np.polyfit(time[late], flow[late], 1)[0] if np.count_nonzero(late) > 1 else 0.0
        changes.append(float(abs(slope) * (time[-1] - time[late][0]) / np.mean(flow[late])))
    moving = [s.step for s, c in zip(test.pressure_steps, changes, strict=True) if c and c > CHANGE]
    if moving:
        notes.append(f"flow was not steady in step(s) {', '.join(map(str, moving))}")
    short = [
        s.step for s in test.pressure_steps if s.minutes is not None and s.minutes < SHORTEST_MIN
    ]
    if short:
        words = ", ".join(map(str, short))
        notes.append(f"step(s) {words} lasted under {SHORTEST_MIN:g} minutes: steadiness not shown")
    known = [c for c in changes if c is not None]
    worst = max(known) if known and len(known) == len(changes) else None
    return Steadiness(worst, tuple(changes), tuple(notes))
