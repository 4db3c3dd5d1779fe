"""A run that is shared out to workers: the same tables and figures, and nobody stays behind."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest
from beside import module_of

from geoprofile import workers
from geoprofile.app.running import run
from geoprofile.app.warming import warm
from geoprofile.errors import DiskError
from geoprofile.schema import DERIVED
from geoprofile.store import Changes, Store
from geoprofile.store.changes import WriteReport

LONGEST_S = 60.0
KILLED_AFTER = 8  # pieces
NOT_THE_RESULT = {"run", "finding_id"}
PROCESSES = module_of("faults/test_workers_end.py")
INPUTS = ("*.toml", "*.csv", "*.geojson", "readings")


def copied_inputs(folder: Path, to: Path) -> Path:
    """A site that nobody has run."""
    to.mkdir()
    for pattern in INPUTS:
        for path in folder.glob(pattern):
            (shutil.copytree if path.is_dir() else shutil.copy)(path, to / path.name)
    return to


def rows_of(folder: Path) -> dict[str, str]:
    """Every computed table with every digit."""
    site = Store.open(folder / "site.gpkg").read([*(t.name for t in DERIVED), "finding"])
    return {
        name: pd.DataFrame(frame.drop(columns=NOT_THE_RESULT, errors="ignore")).to_csv()
        for name, frame in site.tables.items()
    }


def test_the_results_are_those_of_one_process(
    small_run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A worker does its share until it is killed, half way through the run."""
    given: list[bool] = []
    ask = workers._Worker.ask

    def counted(worker: workers._Worker, shared: workers._Shared, piece: object) -> object:
        answer = ask(worker, shared, piece)
        given.append(answer.failed)
        if len(given) == KILLED_AFTER:
            worker.process.kill()
        return answer

    monkeypatch.setattr(workers._Worker, "ask", counted)
    folder = copied_inputs(small_run, tmp_path / "site")
    with workers.at_hand(1, warm):
        crew = workers._CREW.get()
        assert crew is not None
        assert crew.workers[0].pipe.poll(LONGEST_S)  # it is ready
        run(folder)
    assert given[:KILLED_AFTER] == [False] * KILLED_AFTER
    assert given[KILLED_AFTER:] == [True]
    assert rows_of(folder) == rows_of(small_run)
    figures = sorted(p.name for p in (small_run / "out").iterdir() if p.suffix in (".png", ".svg"))
    assert figures
    for name in figures:
        assert (folder / "out" / name).read_bytes() == (small_run / "out" / name).read_bytes()
    assert not list(folder.rglob(".being-written-*"))


def test_of_layers_that_are_not_stored_no_sheet_is_left(
    small_run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worker has drawn one ahead when the disk refuses; the next run takes its place."""
    folder = copied_inputs(small_run, tmp_path / "site")
    store = Store.write
    ahead: list[str] = []

    def refuse(self: Store, changes: Changes, *more: object) -> WriteReport:
        if not changes.derived:
            return store(self, changes)
        until = time.monotonic() + LONGEST_S
        while not (drawn := list(folder.glob(".being-written-*/*/*.svg"))):
            assert time.monotonic() < until
            time.sleep(0.05)
        ahead.extend(path.name for path in drawn)
        raise DiskError("site.gpkg", "a full disk", "some space", "Make room.")

    with monkeypatch.context() as patch, workers.at_hand(1, warm):
        patch.setattr(Store, "write", refuse)
        with pytest.raises(DiskError, match="a full disk"):
            run(folder)
    assert ahead
    assert not list(folder.rglob("*.svg"))
    assert not list(folder.rglob(".being-written-*"))
    run(folder)
    for name in ahead:
        assert (folder / "out" / name).read_bytes() == (small_run / "out" / name).read_bytes()


@pytest.mark.skipif(sys.platform != "linux", reason="children are looked up in /proc")
@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGINT])
def test_no_worker_stays_behind(small_run: Path, tmp_path: Path, by: signal.Signals) -> None:
    """The command is stopped as soon as its worker is there; the next run is whole."""
    folder = copied_inputs(small_run, tmp_path / "site")
    words = [sys.executable, "-m", "geoprofile", "run", str(folder), "--workers", "1", "--quiet"]
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as process:
        until = time.monotonic() + LONGEST_S
        while len(children := PROCESSES.children_of(process.pid)) < 2:  # the worker and its helper
            assert process.poll() is None
            assert time.monotonic() < until
            time.sleep(0.02)
        time.sleep(0.5)
        process.send_signal(by)
        process.wait(LONGEST_S)
        until = time.monotonic() + LONGEST_S
        while any(map(PROCESSES.is_running, children)) and time.monotonic() < until:
            time.sleep(0.05)
        left = [pid for pid in children if PROCESSES.is_running(pid)]
        for pid in left:
            os.kill(pid, signal.SIGKILL)
    assert left == []
    assert not list(folder.rglob("*.gpkg-wal"))
