"""Predictions over any number of cells: cut in tasks, handed out, put back in their rows."""

from __future__ import annotations

from collections import deque
from contextlib import AbstractContextManager, nullcontext
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.kriging.covariance.data import Prediction
from geoprofile.kriging.predict.executors import Future, cluster, executor_for, processes
from geoprofile.kriging.predict.statistics import Statistic, spread_of
from geoprofile.kriging.solve.blocks import BLOCKS_PER_TASK, Progress
from geoprofile.kriging.solve.cells import Index, Lattice, cells_of, tasks
from geoprofile.kriging.solve.local import MOST_GLOBAL
from geoprofile.threads import one_thread_each

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]
Columns = tuple[NDArray[Any], ...]

# Tasks under way per worker: one at work, one waiting, so that memory stays bounded.
AHEAD = 2


def over_cells(
    model: Model,
    targets: Array | Lattice,
    wanted: Statistic,
    columns: int,
    *,
    workers: int | None = None,
    exact: bool = False,
    progress: Progress | None = None,
    out: Columns | None = None,
) -> Columns:
    """Ask the same of every cell.

    Parameters
    ----------
    model : Model
        Fitted.
    targets : Array, shape (n, 3) [m], or Lattice
        Easting, northing, elevation.
    wanted : callable
        From predictions of a block to columns of shape (m,) [log10 unit].
    columns : int [-]
        How many these are.
    workers : int [-]
        Threads; None: as many as processors, or the workers put to work outside.
    exact : bool
        Variance from all data, however many.
    progress : callable
        Told how many tasks of how many are done.
    out : tuple of Array, shape (n,) [log10 unit]
        Written if given: may lie in a file (numpy.memmap) or be of single precision.

    Returns
    -------
    tuple of Array, shape (n,) [log10 unit]
        The same bits whoever computed them.

    Raises
    ------
    UsageError
        `out` has another size.
    """
    kept = None if out is not None or isinstance(targets, Lattice) else model.kept
    key = None
    if kept is not None:
        targets = np.atleast_2d(np.asarray(targets, dtype=float))
        key = kept.key(targets, exact, wanted)
        held = kept.answered(key)
        if held is not None:
            return held
    cells = cells_of(targets)
    out = _checked(out, columns, len(cells))
    many = len(model.data) > MOST_GLOBAL and not exact
    model.prepare(exact=exact)
    with one_thread_each():
        blocks = cells.cut(model.frame, compact=many)
    total = -(-len(blocks) // BLOCKS_PER_TASK)
    # One task is not worth sending away.
    with executor_for(1 if total == 1 else workers) as executor:
        submit = executor.prepare(model)
        pending: deque[tuple[list[Index], Future]] = deque()
        try:
            for number, rows in enumerate(tasks(blocks)):
                task = [blocks.places(some) for some in rows]
                pending.append((rows, submit(wanted, task, exact)))
                if len(pending) > AHEAD * executor.n_workers:
                    _put(out, *pending.popleft())
                    _tell(progress, number + 1 - len(pending), total)
            while pending:
                _put(out, *pending.popleft())
                _tell(progress, total - len(pending), total)
        finally:
            for _, future in pending:
                future.cancel()
    if kept is not None:
        kept.answer(key, out)
    return out


def predict_over(
    model: Model,
    targets: Array | Lattice,
    *,
    workers: int | None = None,
    client: Any = None,
    out: Columns | None = None,
    exact: bool = False,
    progress: Progress | None = None,
) -> Prediction:
    """Mean and standard deviation by worker processes or a cluster.

    Parameters
    ----------
    model : Model
        Fitted.
    targets : Array, shape (n, 3) [m], or Lattice
        Easting, northing, elevation.
    workers : int [-]
        Processes on this machine; None: threads of this one.
    client : distributed.Client
        Cluster to work on instead.
    out : tuple of two Array, shape (n,) [log10 unit]
        Written if given: may lie in a file (numpy.memmap) or be of single precision.
    exact : bool
        Variance from all data, however many.
    progress : callable
        Told how many tasks of how many are done.

    Returns
    -------
    Prediction
        Mean and sd, shape (n,) [log10 unit]; the same bits whoever computed them, on processors
        of one kind.

    Raises
    ------
    UsageError
        Both workers and a client, or `out` of another size.
    """
    if workers is not None and client is not None:
        raise UsageError(
            "predict_over", "workers and a client", "one of them", "Leave out the other."
        )
    hired: AbstractContextManager[Any] = nullcontext()
    if workers is not None:
        hired = processes(workers)
    elif client is not None:
        hired = cluster(client)
    with hired:
        wanted = partial(spread_of, high=model.high_values)
        mean, sd = over_cells(model, targets, wanted, 2, exact=exact, progress=progress, out=out)
    return Prediction(mean, sd)


def _checked(out: Columns | None, columns: int, count: int) -> Columns:
    """A place for every column of every cell: the caller's, or new ones."""
    if out is None:
        return tuple(np.empty(count) for _ in range(columns))
    shapes = [column.shape for column in out]
    if shapes != [(count,)] * columns:
        expected = f"{columns} arrays of shape ({count},)"
        raise UsageError("out", f"shapes {shapes}", expected, "Give a place for every cell.")
    return out


def _put(out: Columns, rows: list[Index], future: Future) -> None:
    """Wait for a task and put its columns in their rows."""
    for some, found in zip(rows, future.result(), strict=True):
        for column, values in zip(out, found, strict=True):
            column[some] = values


def _tell(progress: Progress | None, done: int, total: int) -> None:
    """Report, if somebody listens."""
    if progress is not None:
        progress(done, total)
