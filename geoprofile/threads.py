"""How many threads a process may use, what they share, and how worker processes start and end.

Linear algebra gets one thread wherever results are kept.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from functools import cache
from multiprocessing import parent_process
from multiprocessing.process import BaseProcess
from threading import Lock, Thread
from typing import Any

MOST_HEAPS = -8  # M_ARENA_MAX of glibc's malloc.h
SAFE_PATH = "PYTHONSAFEPATH"  # Python 3.11: the present folder is not the first to import from


def one_thread_each() -> AbstractContextManager[None]:
    """Hold BLAS to one thread: two pools would fight, and sums of two threads have other bits.

    Returns
    -------
    context manager
        To enter around the work; threads may enter it together.
    """
    return _holder()()


class _Hold:
    """The first who enters holds the BLAS libraries to one thread, the last lets go."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.inside = 0
        self.limit: Any = None
        try:
            from threadpoolctl import ThreadpoolController
        except ImportError:
            self.libraries: Any = None
        else:
            # only libraries that are loaded are held, and scipy may bring a BLAS of its own
            import scipy.linalg  # noqa: F401

            self.libraries = ThreadpoolController()

    @contextmanager
    def __call__(self) -> Iterator[None]:
        self._count(1)
        try:
            yield
        finally:
            self._count(-1)

    def _count(self, more: int) -> None:
        with self.lock:
            if self.libraries is not None and more > 0 and not self.inside:
                self.limit = self.libraries.limit(limits=1, user_api="blas")
            self.inside += more
            if self.limit is not None and not self.inside:
                self.limit.restore_original_limits()
                self.limit = None


@cache
def _holder() -> _Hold:
    """One for the process: the libraries' thread counts are the process's, too."""
    return _Hold()


def processors() -> int:
    """The processors that this process may use.

    Returns
    -------
    int [-]
        At least one.
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


_SHARED = [1]  # processes that share them at present, this one among them


def own_processors() -> int:
    """Threads to use: the processors, or this process's share of them beside its workers.

    Returns
    -------
    int [-]
        At least one.
    """
    return max(1, processors() // _SHARED[0])


@contextmanager
def shared_by(count: int) -> Iterator[None]:
    """Inside, the processors are shared by so many processes, this one among them.

    Parameters
    ----------
    count : int [-]
        At least one.
    """
    before, _SHARED[0] = _SHARED[0], count
    try:
        yield
    finally:
        _SHARED[0] = before


def share_one_heap() -> None:
    """Have all threads take memory from one place: 40 MB less of a run, and no slower.

    The C library of most Linux systems gives each thread a place of its own, which keeps what it
    once held; other systems are left as they are.
    """
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).mallopt(MOST_HEAPS, 1)


def give_back() -> None:
    """Give memory that is free back to the system, in 7 to 25 ms.

    With it after each layer and sheet a first run peaked at 495 MB instead of 537.
    Where the C library has no such call it decides by itself.
    """
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).malloc_trim(0)


@contextmanager
def safe_path() -> Iterator[None]:
    """Processes started inside import nothing from the folder that the user happens to be in.

    Yields
    ------
    None
        The environment as it was comes back at the end.
    """
    before = os.environ.get(SAFE_PATH)
    os.environ[SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            os.environ.pop(SAFE_PATH, None)
        else:
            os.environ[SAFE_PATH] = before


def end_with_parent() -> None:
    """In a worker: end when the process that started it has ended, in whatever way."""
    parent = parent_process()
    if parent is not None:
        Thread(target=_wait_for_end, args=(parent,), daemon=True).start()


def _wait_for_end(parent: BaseProcess) -> None:
    parent.join()
    os._exit(1)
