"""Who computes the blocks: threads of this process, worker processes, or a cluster."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures import Future as Answered
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.kriging.predict.statistics import Statistic
from geoprofile.threads import end_with_parent, one_thread_each, own_processors, safe_path

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]

# Places (m, 3) [m] of the blocks of a task, and the columns (m,) found for each.
Task = list[Array]
Found = list[tuple[Array, ...]]
# Arrays in a shared file begin at the width of the widest vector register.
ALIGNED = 64


class Future(Protocol):
    """A result that is on its way."""

    def result(self) -> Any:
        """Wait for it."""

    def cancel(self) -> Any:
        """Give it up, if nobody has begun."""


# From what is wanted, a task, and whether the variance is exact, to the task's `Found`.
Submit = Callable[[Statistic, Task, bool], Future]


@dataclass(frozen=True, eq=False)
class BlockExecutor:
    """`n_workers` [-] that work at a time; `prepare` hands them a model and tells how to give a
    task.
    """

    n_workers: int
    prepare: Callable[[Model], Submit]


_EXECUTOR: ContextVar[BlockExecutor | None] = ContextVar("executor", default=None)


def answer(model: Model, wanted: Statistic, task: Task, exact: bool) -> Found:
    """What a model says of the cells of a task, on one BLAS thread.

    Parameters
    ----------
    model : Model
        Prepared.
    wanted : callable
        From predictions of a block to columns of shape (m,) [log10 unit].
    task : list of Array, shape (m, 3) [m]
        Places of each block.
    exact : bool
        Variance from all data, however many.

    Returns
    -------
    list of tuple of Array, shape (m,) [log10 unit]
        Columns of each block.
    """
    with one_thread_each():
        return [wanted(model.parts(xyz, exact=exact)) for xyz in task]


@contextmanager
def threads(count: int | None = None) -> Iterator[BlockExecutor]:
    """Threads of this process.

    Parameters
    ----------
    count : int [-]
        How many; None: as many as processors.

    Yields
    ------
    BlockExecutor
        Sharing the model as it is.
    """
    n_workers = count or own_processors()
    with one_thread_each(), ThreadPoolExecutor(n_workers) as pool:

        def prepare(model: Model) -> Submit:
            return lambda wanted, task, exact: pool.submit(answer, model, wanted, task, exact)

        yield BlockExecutor(n_workers, prepare)


@contextmanager
def processes(count: int) -> Iterator[BlockExecutor]:
    """Worker processes on this machine, for every prediction made inside.

    Parameters
    ----------
    count : int [-]
        How many.

    Yields
    ------
    BlockExecutor
        Each model is written to a file once and mapped by all workers: nothing is held twice.

    Raises
    ------
    UsageError
        Fewer than one process, or a worker that was ended from outside.

    Notes
    -----
    Processes are started afresh (spawn): a copy of a process whose BLAS threads run may hang. A
    script that calls this needs the usual `if __name__ == "__main__":`.
    """
    if count < 1:
        raise UsageError("workers", f"{count}", "1 or more", "Leave it out for threads.")
    # A file, as memory shared by name is scarce in containers.
    made = TemporaryDirectory(prefix="geoprofile-", ignore_cleanup_errors=True)
    with made as folder, safe_path():  # the pool's own helper starts with the pool
        pool = ProcessPoolExecutor(
            count, mp_context=get_context("spawn"), initializer=end_with_parent
        )
        try:
            with _put_to_work(
                BlockExecutor(count, _Mailed(pool, Path(folder)).prepare)
            ) as executor:
                yield executor
        except BrokenProcessPool as error:
            raise UsageError(
                f"workers {count}",
                "a worker process that was ended from outside",
                "memory enough for every worker",
                "Ask for fewer workers.",
            ) from error
        finally:
            pool.shutdown(cancel_futures=True)


@contextmanager
def cluster(client: Any) -> Iterator[BlockExecutor]:
    """Workers of a `dask.distributed` client, for every prediction made inside.

    Parameters
    ----------
    client : distributed.Client
        Connected; its workers have geoprofile installed.

    Yields
    ------
    BlockExecutor
        Each model is sent to every worker once.
    """

    def prepare(model: Model) -> Submit:
        sent = client.scatter(model, broadcast=True, hash=False)
        return lambda wanted, task, exact: client.submit(
            answer, sent, wanted, task, exact, pure=False
        )

    n_workers = sum(client.nthreads().values())
    with _put_to_work(BlockExecutor(max(n_workers, 1), prepare)) as executor:
        yield executor


@contextmanager
def executor_for(count: int | None) -> Iterator[BlockExecutor]:
    """The workers put to work outside, else threads.

    Parameters
    ----------
    count : int [-]
        Threads; None: as many as processors, or the workers that were put to work.

    Yields
    ------
    BlockExecutor
        That takes tasks.
    """
    executor = _EXECUTOR.get()
    if executor is not None and count is None:
        yield executor
        return
    if count == 1:
        yield BlockExecutor(1, _in_place)
        return
    with threads(count) as own:
        yield own


def _in_place(model: Model) -> Submit:
    """The caller does the work: a thread takes longer to start than most questions to answer."""

    def submit(wanted: Statistic, task: Task, exact: bool) -> Future:
        done: Answered[Found] = Answered()
        done.set_result(answer(model, wanted, task, exact))
        return done

    return submit


@contextmanager
def _put_to_work(executor: BlockExecutor) -> Iterator[BlockExecutor]:
    """Let predictions inside find the executor."""
    token = _EXECUTOR.set(executor)
    try:
        yield executor
    finally:
        _EXECUTOR.reset(token)


class _Mailed:
    """Models written to files that worker processes map."""

    def __init__(self, pool: Executor, folder: Path) -> None:
        self.pool, self.folder = pool, folder
        self.sent: list[Model] = []

    def prepare(self, model: Model) -> Submit:
        """Write the model unless it has been, and say how to give a task."""
        known = [number for number, one in enumerate(self.sent) if one is model]
        number = known[0] if known else len(self.sent)
        path = self.folder / str(number)
        if not known:
            _write(model, path)
            self.sent.append(model)
        return lambda wanted, task, exact: self.pool.submit(
            _answer_from, str(path), wanted, task, exact
        )


def _write(model: Model, path: Path) -> None:
    """The model as a file: its arrays one after the other, then what says where they lie."""
    buffers: list[pickle.PickleBuffer] = []
    head = pickle.dumps(model, protocol=5, buffer_callback=buffers.append)
    spans = []
    with path.open("wb") as file:
        for buffer in buffers:
            raw = buffer.raw()
            file.seek(-(-file.tell() // ALIGNED) * ALIGNED)
            spans.append((file.tell(), raw.nbytes))
            file.write(raw)
    path.with_suffix(".head").write_bytes(pickle.dumps((head, spans)))


@lru_cache(maxsize=4)
def _read(path: str) -> Model:
    """The model of a file, its arrays in memory that all workers share until one writes."""
    head, spans = pickle.loads(Path(path).with_suffix(".head").read_bytes())  # noqa: S301  ours
    if not spans:
        return pickle.loads(head)  # type: ignore[no-any-return]  # noqa: S301
    whole = np.memmap(path, dtype=np.uint8, mode="c")
    arrays = [whole[begin : begin + size].data for begin, size in spans]
    return pickle.loads(head, buffers=arrays)  # type: ignore[no-any-return]  # noqa: S301


def _answer_from(path: str, wanted: Statistic, task: Task, exact: bool) -> Found:
    """`answer` in a worker process."""
    return answer(_read(path), wanted, task, exact)
