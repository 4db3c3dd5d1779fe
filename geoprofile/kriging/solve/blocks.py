"""Targets cut into blocks and shared out to threads, so that memory stays bounded."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from geoprofile.threads import one_thread_each as one_thread_each

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

CELLS = 512
# One task of a thread: enough blocks that handing out costs nothing.
BLOCKS_PER_TASK = 16


def default_workers() -> int:
    """Threads to use: the processors that this process may use.

    Returns
    -------
    int [-]
        At least one.
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_blocks(
    count: int,
    compute: Callable[[slice], None],
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cells: int = CELLS,
) -> None:
    """Call `compute` for every block of targets; it writes its own rows.

    Parameters
    ----------
    count : int [-]
        Number of targets.
    compute : callable
        Takes the slice of one block; must be safe to call from threads.
    workers : int [-]
        Threads; None: as many as processors, 1: the caller's own.
    progress : callable
        Told how many tasks of how many are done.
    cells : int [-]
        Targets per block.

    Returns
    -------
    None
        The blocks have written their results.
    """
    step = cells * BLOCKS_PER_TASK
    tasks = [range(first, min(first + step, count), cells) for first in range(0, count, step)]

    def run(task: Sequence[int]) -> None:
        for first in task:
            compute(slice(first, min(first + cells, count)))

    def report(results: Iterator[None]) -> None:
        for done, _ in enumerate(results, start=1):
            if progress is not None:
                progress(done, len(tasks))

    with one_thread_each():
        if workers == 1:
            report(map(run, tasks))
            return
        with ThreadPoolExecutor(workers or default_workers()) as pool:
            report(pool.map(run, tasks))
