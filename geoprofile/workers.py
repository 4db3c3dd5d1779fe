"""Worker processes that take their share of a run; what they cannot do is done by the caller.

They are started afresh, never forked, at the beginning of a run, and import and compile while the
caller loads. Whoever computes a piece gets the same result to the last bit, so that a worker that
is slow, ended from outside or cannot take a piece costs time and nothing else.
"""

from __future__ import annotations

import os
import pickle
import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from queue import SimpleQueue
from threading import Lock, Thread
from typing import Any

from geoprofile import budget, remembered
from geoprofile.threads import (
    end_with_parent,
    one_thread_each,
    processors,
    safe_path,
    share_one_heap,
    shared_by,
)

MOST = 3
FREE_BYTES = 2**30  # a worker holds a half of it
LEAVING_S = 10.0  # [s] until one that does not leave is ended by force
WAIT_S = 0.05  # [s] between looks at a worker that is still importing

# From what all pieces share, and a piece, to its result; by its name, so that workers find it.
Function = Callable[[Any, Any], Any]


def worthwhile() -> int:
    """Workers that a large run is worth on this machine.

    Returns
    -------
    int [-]
        One less than the processors, as far as the free memory goes; at most three.
    """
    most = min(processors() - 1, MOST)
    with suppress(OSError, ValueError, LookupError):  # not every system tells
        told = Path("/proc/meminfo").read_text(encoding="ascii").split("MemAvailable:")[1]
        most = min(most, 1024 * int(told.split()[0]) // FREE_BYTES)
    return max(most, 0)


@contextmanager
def at_hand(count: int, prepare: Callable[[], None]) -> Iterator[None]:
    """Workers for `each` inside, if there are to be any; they have ended afterwards.

    Parameters
    ----------
    count : int [-]
        How many processes beside this one.
    prepare : callable
        What each does first: importing and compiling. Found by its name.
    """
    if count < 1 or _CREW.get() is not None:
        yield
        return
    crew = _Crew(count, prepare)
    token = _CREW.set(crew)
    try:
        with shared_by(count + 1):
            yield
    finally:
        _CREW.reset(token)
        crew.end()


def has_workers() -> bool:
    """Whether pieces of work are shared out here.

    Returns
    -------
    bool
        False also where every worker has been lost.
    """
    crew = _CREW.get()
    return crew is not None and bool(crew.workers)


def each(
    function: Function,
    common: Any,
    pieces: Sequence[Any],
    *,
    here: Callable[[Any], Any] | None = None,
) -> Iterator[Any]:
    """The result for each piece, in their order, whoever of this process and its workers is free.

    Parameters
    ----------
    function : callable
        Of `common` and a piece; a function of a module.
    common : object
        What all pieces need: sent to each worker once.
    pieces : sequence
        Few and long rather than many and short.
    here : callable, optional
        Of a piece, for those computed in this process; gives the same as the function.

    Yields
    ------
    object
        Results. An error is that of the same piece computed here.
    """
    own = here if here is not None else partial(function, common)
    crew = _CREW.get()
    if crew is None or not crew.workers or len(pieces) < 2:
        yield from map(own, pieces)
        return
    yield from _Shared(crew, (function, common), pieces, own).results()


def begin(function: Function, common: Any) -> Callable[[], None]:
    """Have each worker that is free do one piece of work that nobody waits for.

    Parameters
    ----------
    function : callable
        Of `common` and of the number of the worker and how many there are; what it gives is left.
    common : object
        What it needs.

    Returns
    -------
    callable
        After it is called, no worker begins any more.
    """
    crew = _CREW.get()
    count = 0 if crew is None else len(crew.workers)
    if crew is None or not count:
        return lambda: None
    pieces = [(number, count) for number in range(count)]
    shared = _Shared(crew, (function, common), pieces, partial(function, common))
    shared.start()
    return shared.left.clear


@dataclass(frozen=True)
class _Answer:
    """What came of a piece in a worker, and what it has remembered meanwhile."""

    value: Any = None
    memory: remembered.Learned | None = None
    failed: bool = True


@dataclass(frozen=True)
class _Raised:
    """An error that waits for its turn: the results of the pieces before it come first."""

    error: Exception


class _Worker:
    """A process, and the pipe to it."""

    def __init__(self, prepare: Callable[[], None]) -> None:
        context = get_context("spawn")
        self.pipe, far = context.Pipe()
        self.process = context.Process(target=_serve, args=(far, prepare), daemon=True)
        self.process.start()
        far.close()
        self.lock = Lock()
        self.is_ready = self.is_lost = False
        self.knows: object = None

    def is_free(self) -> bool:
        """Whether it has begun to listen."""
        if not self.is_ready and self.pipe.poll(WAIT_S):
            self.pipe.recv()
            self.is_ready = True
        return self.is_ready

    def ask(self, shared: _Shared, piece: Any) -> _Answer:
        """Have it compute a piece; a failure of any kind is an answer too."""
        try:
            if self.knows is not shared:
                self.pipe.send_bytes(shared.written())
                self.knows = shared
            self.pipe.send_bytes(pickle.dumps((piece, *shared.state), 5))
            answer: _Answer = self.pipe.recv()
            return answer
        except (EOFError, OSError):
            self.is_lost = True
        except Exception:  # noqa: S110  what cannot be sent is computed by the caller
            pass
        return _Answer()

    def end(self) -> None:
        """End it, whatever it does; it clears away what it was writing."""
        self.process.terminate()
        self.process.join(LEAVING_S)
        self.process.kill()
        self.process.join()


class _Crew:
    """The workers of a run."""

    def __init__(self, count: int, prepare: Callable[[], None]) -> None:
        self.workers: list[_Worker] = []
        # a system that starts no process, or not from here
        with safe_path(), suppress(OSError, TypeError, AssertionError):
            for _ in range(count):
                self.workers.append(_Worker(prepare))

    def lose(self, worker: _Worker) -> None:
        """Do without it from now on."""
        with suppress(ValueError):
            self.workers.remove(worker)

    def end(self) -> None:
        """End all."""
        for worker in tuple(self.workers):  # a thread may be losing one at this moment
            worker.end()


_CREW: ContextVar[_Crew | None] = ContextVar("crew", default=None)


class _Shared:
    """Pieces that this process and the workers take from one queue, until none is left."""

    def __init__(
        self,
        crew: _Crew,
        what: tuple[Function, Any],
        pieces: Sequence[Any],
        own: Callable[[Any], Any],
    ) -> None:
        self.crew, self.what, self.pieces, self.own = crew, what, pieces, own
        self.left = deque(range(len(pieces)))
        self.answers: SimpleQueue[tuple[int, _Answer]] = SimpleQueue()
        self.lock = Lock()
        self.sent: bytes | None = None
        self.state = remembered.where(), budget.factor()  # the threads that ask know of neither

    def written(self) -> bytes:
        """What all pieces share, as it goes to a worker; an error for what cannot."""
        with self.lock:
            if self.sent is None:
                self.sent = pickle.dumps(self.what, 5)
            return self.sent

    def start(self) -> None:
        """Have the workers begin."""
        for worker in tuple(self.crew.workers):
            Thread(target=self._feed, args=(worker,), daemon=True).start()

    def results(self) -> Iterator[Any]:
        """The results in the order of the pieces."""
        self.start()
        done: dict[int, Any] = {}
        try:
            for number in range(len(self.pieces)):
                while number not in done:
                    self._one_more(done)
                found = done.pop(number)
                if isinstance(found, _Raised):
                    raise found.error
                yield found
        finally:
            self.left.clear()

    def _one_more(self, done: dict[int, Any]) -> None:
        """Compute the next piece here, or wait for a worker where all have been taken."""
        mine = self._next()
        if mine is not None:
            done[mine] = self._here(mine)
        while mine is None or not self.answers.empty():
            number, answer = self.answers.get()
            if answer.memory is not None:
                remembered.learn(answer.memory)
            done[number] = self._here(number) if answer.failed else answer.value
            mine = number

    def _here(self, number: int) -> Any:
        """What comes of a piece in this process; after an error nobody needs the later pieces."""
        try:
            return self.own(self.pieces[number])
        except Exception as error:
            self.left.clear()
            return _Raised(error)

    def _next(self) -> int | None:
        with suppress(IndexError):
            return self.left.popleft()
        return None

    def _feed(self, worker: _Worker) -> None:
        """Give a worker piece after piece."""
        with worker.lock:
            while self.left and not worker.is_lost:
                try:
                    if not worker.is_free():
                        continue
                except (EOFError, OSError):
                    worker.is_lost = True
                    continue
                number = self._next()
                if number is not None:
                    self.answers.put((number, worker.ask(self, self.pieces[number])))
        if worker.is_lost:
            self.crew.lose(worker)


def _serve(pipe: Connection, prepare: Callable[[], None]) -> None:
    """The life of a worker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the caller is asked, and ends its workers
    signal.signal(signal.SIGTERM, _leave)
    end_with_parent()
    share_one_heap()
    try:
        with suppress(Exception):  # what was not prepared is done when it is needed
            prepare()
        with suppress(EOFError, OSError):
            _answer_all(pipe)
    finally:
        os._exit(0)  # to take down what was imported takes most of a second


def _answer_all(pipe: Connection) -> None:
    """Be told what all pieces share, then one piece after the other."""
    pipe.send(None)
    what: tuple[Function, Any] | None = None
    while True:
        said = pickle.loads(pipe.recv_bytes())  # noqa: S301  from the process that started us
        if len(said) == 2:
            what = said
        elif what is not None:
            pipe.send_bytes(_answered(*what, *said))


def _leave(*_: object) -> None:
    raise SystemExit


def _answered(
    function: Function, common: Any, piece: Any, memory: remembered.Where | None, factor: float
) -> bytes:
    """The answer on a piece, as it goes back."""
    try:
        budget.allow(factor)
        with remembered.learning(memory) as learned, one_thread_each():
            value = function(common, piece)
        return pickle.dumps(_Answer(value, learned(), failed=False), 5)
    except Exception:
        return pickle.dumps(_Answer(), 5)
