"""Pieces of work are done once each and in order, whatever becomes of the workers."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from geoprofile import budget
from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.remembered import of_arrays, remembered, remembering
from geoprofile.threads import own_processors, processors
from geoprofile.workers import at_hand, begin, each, has_workers, worthwhile

FORM = of_arrays("squares", "kriging")


def nothing() -> None:
    """All that has to be prepared."""


def squared(common: float, piece: float) -> tuple[int, float]:
    """Who did it, and what came of it."""
    time.sleep(0.02)
    return os.getpid(), common + piece**2


def refused(common: str, piece: int) -> int:
    """An error in four parts for one of the pieces."""
    if piece == 3:
        raise DataError(common, "3", "another number", "Leave it out.")
    return piece


def told_as_value(common: str, piece: int) -> DataError | None:
    """The same error as a result."""
    try:
        refused(common, piece)
    except DataError as error:
        return error
    return None


def unsendable(common: object, piece: int) -> object:
    """What no pipe takes."""
    return (lambda: piece) if piece % 2 else piece


def leaving(common: int, piece: int) -> int:
    """In a worker: killed from outside as soon as it is asked."""
    if os.getpid() != common:
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
    time.sleep(0.02)
    return piece


def kept(common: str, piece: int) -> tuple[int, float]:
    """A result that is remembered."""
    time.sleep(0.05)
    (found,) = remembered((common, piece), lambda: (np.array([float(piece)]),), FORM)
    return os.getpid(), float(found[0])


def allowance(common: object, piece: int) -> float:
    """How large a piece of work may be where it is done."""
    time.sleep(0.02)
    return budget.factor()


def leaves_a_file(common: Path, share: tuple[int, int]) -> None:
    """Something done by the way."""
    (common / f"{share[0]} of {share[1]}").write_text(str(os.getpid()), encoding="ascii")


def own_threads(common: object, piece: int) -> tuple[int, int]:
    """Who asks, and how many threads it may use."""
    time.sleep(0.02)
    return os.getpid(), own_processors()


@pytest.fixture(scope="module")
def _one() -> Iterator[None]:
    """A worker for the tests of this file."""
    with at_hand(1, nothing):
        until = time.monotonic() + 60.0
        while len({who for who, _ in each(squared, 0.0, range(6))}) < 2:
            assert time.monotonic() < until
        yield


def test_without_workers_it_is_a_loop() -> None:
    """In this process, one after the other, and only as far as anybody asks."""
    found = each(squared, 1.0, [3.0, 4.0])
    assert next(found) == (os.getpid(), 10.0)
    assert not has_workers()


def test_without_workers_nothing_is_done_meanwhile(tmp_path: Path) -> None:
    """Nobody is free."""
    begin(leaves_a_file, tmp_path)()
    assert not list(tmp_path.iterdir())


@pytest.mark.usefixtures("_one")
def test_results_come_in_order_from_two_processes() -> None:
    """Both take part; each piece is done once, and there is one set of processors for both."""
    found = list(each(squared, 0.5, range(40)))
    assert [value for _, value in found] == [0.5 + n**2 for n in range(40)]
    assert len({who for who, _ in found}) == 2
    assert dict(each(own_threads, None, range(6)))[os.getpid()] == max(1, processors() // 2)


@pytest.mark.usefixtures("_one")
def test_an_error_is_that_of_the_piece_itself() -> None:
    """The pieces before it are given; it has its four parts, as a result too."""
    found = each(refused, "a place", range(6))
    assert [next(found) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(DataError, match="a place: found 3, expected another number"):
        next(found)
    told = list(each(told_as_value, "a place", range(6)))[3]
    assert told is not None
    assert told.problem.advice == "Leave it out."


@pytest.mark.usefixtures("_one")
def test_what_cannot_be_sent_is_done_here() -> None:
    """A result, a piece, a function or what all share: whichever no pipe takes."""
    results = list(each(unsendable, None, range(6)))
    assert [x() if callable(x) else x for x in results] == list(range(6))
    pieces = [lambda: 1, lambda: 2]
    assert list(each(lambda common, piece: common() + piece(), lambda: 10, pieces)) == [11, 12]


@pytest.mark.usefixtures("_one")
def test_what_a_worker_remembers_is_kept(tmp_path: Path) -> None:
    """All pieces are found by the next run, whoever computed them."""
    with remembering(tmp_path):
        who = {pid for pid, _ in each(kept, "seen", range(8))}
    assert len(who) == 2
    with remembering(tmp_path):
        for number in range(8):
            assert remembered(("seen", number), pytest.fail, FORM)[0] == [float(number)]


@pytest.mark.usefixtures("_one")
def test_large_work_is_allowed_to_workers_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """As far as it is to this process."""
    assert set(each(allowance, None, range(4))) == {budget.factor()}
    monkeypatch.setattr(budget, "factor", lambda: 7.0)
    found = each(allowance, None, range(6), here=lambda piece: time.sleep(0.05))
    assert {x for x in found if x is not None} == {7.0}


@pytest.mark.usefixtures("_one")
def test_a_worker_does_something_meanwhile(tmp_path: Path) -> None:
    """Once, and nobody waits for it; what comes after is shared out as ever."""
    left = tmp_path / "0 of 1"
    stop = begin(leaves_a_file, tmp_path)
    until = time.monotonic() + 60.0
    while not (left.exists() and left.read_text(encoding="ascii")):
        assert time.monotonic() < until
    stop()
    assert int(left.read_text(encoding="ascii")) != os.getpid()
    begin(refused, "a place")()
    assert [value for _, value in each(squared, 0.0, range(6))] == [0, 1, 4, 9, 16, 25]


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_worker_that_is_killed_costs_nothing() -> None:
    """Its pieces are done here, and it is asked nothing more."""
    with at_hand(1, nothing):
        until = time.monotonic() + 60.0
        while has_workers() and time.monotonic() < until:
            assert list(each(leaving, os.getpid(), range(5))) == list(range(5))
        assert not has_workers()
        assert [value for _, value in each(squared, 0.0, range(3))] == [0.0, 1.0, 4.0]


def test_a_system_that_starts_no_process_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """All is done here."""

    def refuse(process: object) -> None:
        raise OSError("no more processes")

    monkeypatch.setattr("multiprocessing.process.BaseProcess.start", refuse)
    with at_hand(2, nothing):
        assert not has_workers()
        assert [value for _, value in each(squared, 0.0, [1.0, 2.0])] == [1.0, 4.0]


@pytest.mark.parametrize(
    ("found", "free_kib", "expected"),
    [(1, 9_000_000, 0), (2, 9_000_000, 1), (64, 9_000_000, 3), (64, 2_500_000, 2), (4, 900_000, 0)],
)
def test_workers_by_processors_and_memory(
    monkeypatch: pytest.MonkeyPatch, found: int, free_kib: int, expected: int
) -> None:
    """One less than there are processors, one for each GiB that is free, never more than three."""
    told = f"MemTotal: 16000000 kB\nMemFree: 100 kB\nMemAvailable: {free_kib} kB\nBuffers: 1 kB\n"
    monkeypatch.setattr("geoprofile.workers.processors", lambda: found)
    monkeypatch.setattr(Path, "read_text", lambda path, encoding: told)
    assert worthwhile() == expected


def test_where_the_system_does_not_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    """Processors alone decide."""
    monkeypatch.setattr("geoprofile.workers.processors", lambda: 2)
    monkeypatch.setattr(Path, "read_text", lambda path, encoding: "nothing of the kind")
    assert worthwhile() == 1


def test_several_faults_travel_together() -> None:
    """An error of many parts comes out of a pipe as it went in."""
    faults = DataErrors([Problem("a", "b", "c", "d"), Problem("e", "f", "g", "h")])
    there = pickle.loads(pickle.dumps(faults))  # noqa: S301
    assert type(there) is DataErrors
    assert there.problems == faults.problems
    assert str(there) == str(faults)
