"""How long a run will take, and what is left of it."""

from __future__ import annotations

import pytest

from geoprofile.app.durations import (
    FIRST,
    LATER,
    Clock,
    expected_s,
    measured_of,
    said_of,
    text_of,
)
from geoprofile.plugins import no_progress

EXPECTED = {"load": 2.0, "conductivity": 8.0, "model": 10.0, "figures": 5.0}


class Time:
    """A clock that is put forward by hand."""

    def __init__(self) -> None:
        self.at = 0.0

    def __call__(self) -> float:
        """Seconds."""
        return self.at


def told(pace: dict[str, float]) -> list[tuple[float, float]]:
    """What was said to be left, and what really was, in a run at some pace of each step."""
    time, said = Time(), []
    clock = Clock(EXPECTED, lambda left: said.append((left, whole - time.at)), time)
    whole = sum(EXPECTED[name] * pace.get(name, pace["all"]) for name in EXPECTED)
    announce = clock.announce(lambda name: no_progress)
    for name, expected in EXPECTED.items():
        progress = announce(name)
        for done in range(1, 11):
            time.at += expected * pace.get(name, pace["all"]) / 10
            progress(done, 10)
    clock.end_step()
    assert clock.took == pytest.approx(
        {name: EXPECTED[name] * pace.get(name, pace["all"]) for name in EXPECTED}
    )
    return said


@pytest.mark.parametrize("slow", [0.4, 1.0, 3.0, 10.0])
def test_time_left_follows_a_busy_machine(slow):
    """However slow the machine: from a tenth of the work on, within a factor of two."""
    for left, true in told({"all": slow})[12:-1]:
        assert true / 2 <= left <= true * 2


@pytest.mark.parametrize("step", ["conductivity", "model", "figures"])
def test_one_step_that_takes_twice_as_long(step):
    """From a tenth of the work on, still within a factor of two."""
    for left, true in told({"all": 1.0, step: 1.9})[12:-1]:
        assert true / 2 <= left <= true * 2


def test_measured_goes_before_guessed():
    """A measured step counts as measured, of its own kind of run first; others by their size."""
    seconds = {FIRST: {"model": 9.0, "section": 2.0}, LATER: {"model": 3.0}}
    measured = measured_of(seconds, LATER)
    assert measured == {"model": 3.0, "section": 2.0}
    few = expected_s(["model", "conductivity"], measured, tests=10)
    many = expected_s(["model", "conductivity"], measured, tests=1000)
    assert few["model"] == many["model"] == 3.0
    assert many["conductivity"] > 10 * few["conductivity"]


@pytest.mark.parametrize(
    "said", [{}, {"seconds": 3}, {"seconds": {FIRST: {"a": "x"}}}, {"seconds": {FIRST: 1}}]
)
def test_a_note_of_nonsense_tells_nothing(said):
    """No durations, no error."""
    assert said_of(said) == {}


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.3, "about a second"),
        (7.4, "about 7 s"),
        (33.0, "about 35 s"),
        (200.0, "about 3 min"),
        (9000.0, "about 2.5 h"),
    ],
)
def test_durations_in_words(seconds, words):
    """No more digits than are known."""
    assert text_of(seconds) == words
