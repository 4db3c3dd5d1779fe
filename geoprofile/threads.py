"""How many threads the linear algebra may use: one, wherever results are kept."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import cache
from threading import Lock
from typing import Any


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
