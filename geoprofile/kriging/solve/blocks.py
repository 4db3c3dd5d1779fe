"""Targets cut into blocks and shared out to threads, so that memory stays bounded."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from geoprofile.threads import one_thread_each as one_thread_each
from geoprofile.threads import own_processors

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

CELLS = 512
# One task of a thread: enough blocks that handing out costs nothing.
BLOCKS_PER_TASK = 16


def in_blocks(
    count: int,
    compute: Callable[[slice], None],
    *,
    workers: int | None = None,
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
    cells : int [-]
        Targets per block.

    Returns
    -------
    None
        The blocks have written their results.
    """
    blocks = [slice(first, min(first + cells, count)) for first in range(0, count, cells)]
    if workers == 1:
        with one_thread_each():
            for block in blocks:
                compute(block)
        return

    def run(task: list[slice]) -> None:
        for block in task:
            compute(block)

    step = BLOCKS_PER_TASK
    tasks = [blocks[first : first + step] for first in range(0, len(blocks), step)]
    with one_thread_each(), ThreadPoolExecutor(workers or own_processors()) as pool:
        list(pool.map(run, tasks))
