"""How long the steps of a run took, and how long those of the next one will."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.plugins import Progress

if TYPE_CHECKING:
    from geoprofile.engine.computing import Announce

FIRST, LATER = "first", "later"  # with nothing remembered, and with what an earlier run had found
# Seconds of a step on two processors where no run has measured it: fixed, for each test and for
# each field with its sections; of the demonstration.
LOAD, FIGURES = "load", "figures"
GUESSED: Mapping[str, tuple[float, float, float]] = {
    LOAD: (0.5, 0.01, 0.0),
    "conductivity": (0.5, 0.02, 0.0),
    "model": (0.2, 0.0, 1.6),
    "map_band": (0.2, 0.0, 0.7),
    "plume_extent": (0.2, 0.0, 1.1),
    "section": (0.2, 0.0, 0.8),
    "discharge": (0.2, 0.0, 0.4),
    "next_test": (0.3, 0.0, 0.6),
    "next_borehole": (0.3, 0.0, 0.7),
    FIGURES: (2.0, 0.0, 0.8),
}
SMALL_S = 0.1  # [s] of any other step
KNOWN_FROM = 0.1  # [-] share of the work after which its own pace counts
Seconds = dict[str, dict[str, float]]


def expected_s(
    names: Iterable[str], measured: Mapping[str, float], *, tests: int = 100, fields: int = 3
) -> dict[str, float]:
    """Expected duration of steps [s]: as measured, else by the size of the site."""
    found = {}
    for name in names:
        fixed, each_test, each_field = GUESSED.get(name, (SMALL_S, 0.0, 0.0))
        found[name] = measured.get(name, fixed + each_test * tests + each_field * fields)
    return found


def measured_of(seconds: Mapping[str, Mapping[str, float]], kind: str) -> dict[str, float]:
    """Durations of one kind of run [s]; those of the other kind where there are none."""
    other = LATER if kind == FIRST else FIRST
    return {**seconds.get(other, {}), **seconds.get(kind, {})}


def said_of(said: Mapping[str, Any]) -> Seconds:
    """The durations in the note of a run; none where it holds none, or no numbers."""
    try:
        return {
            kind: {str(k): max(float(v), 0.0) for k, v in said["seconds"][kind].items()}
            for kind in (FIRST, LATER)
            if kind in said["seconds"]
        }
    except (KeyError, TypeError, ValueError, AttributeError):
        return {}


class Clock:
    """Measures the steps of a run and tells how much time is left [s].

    `expected` are the steps to come, in their order, with their durations [s]; `tell` is told what
    is left [s] at every report of progress.
    """

    def __init__(
        self,
        expected: Mapping[str, float],
        tell: Callable[[float], None] | None = None,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self.expected, self.tell, self.now = dict(expected), tell, now
        self.took: dict[str, float] = {}
        self.begun = self.step_begun = now()
        self.step = ""

    def announce(self, inner: Announce) -> Announce:
        """The same announcements, which this clock hears too."""

        def begin(name: str) -> Progress:
            self.end_step()
            self.step, self.step_begun = name, self.now()
            told = inner(name)

            def report(done: int, total: int) -> None:
                if self.tell is not None:
                    self.tell(self.left_s(done / max(total, 1)))
                told(done, total)

            return report

        return begin

    def end_step(self) -> None:
        """Note how long the step under way has taken."""
        if self.step:
            self.took[self.step] = self.now() - self.step_begun
            self.step = ""

    def left_s(self, share: float) -> float:
        """Time left when a share [-] of the step under way is done."""
        to_come = {k: v for k, v in self.expected.items() if k not in self.took}
        own = to_come.pop(self.step, 0.0)
        rest = sum(to_come.values()) + own * (1.0 - share)
        done = sum(self.expected.get(k, 0.0) for k in self.took) + own * share
        whole = done + rest
        if not whole or done < KNOWN_FROM * whole:
            return rest
        # the pace so far, which knows of a busy machine
        pace = (self.now() - self.begun) / done
        return rest * pace


def text_of(seconds: float) -> str:
    """A duration in words: no more digits than are known."""
    if seconds < 1.5:
        return "about a second"
    if seconds < 90.0:
        step = 1.0 if seconds < 10.0 else 5.0
        return f"about {step * round(seconds / step):.0f} s"
    return (
        f"about {round(seconds / 60.0)} min"
        if seconds < 5400.0
        else f"about {seconds / 3600.0:.1f} h"
    )


def stored(note: Path) -> Mapping[str, Any]:
    """The note of the last run; nothing where there is none, or none that can be read."""
    import json

    try:
        said = json.loads(note.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}
