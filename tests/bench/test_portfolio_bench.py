"""Many sites: gathered, shared out to processes, and held against a worker that is ended.

`PORTFOLIO_SITES` are gathered, and `PORTFOLIO_RUNS` computed, by one process and by two.
"""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from geoprofile import app

pytestmark = pytest.mark.bench
SITES = int(os.environ.get("PORTFOLIO_SITES", "500"))
RUNS = int(os.environ.get("PORTFOLIO_RUNS", "16"))
FEW = 6


def site(folder: Path, number: int) -> Path:
    """Three boreholes: the work is that of the tables, of the process and of the store."""
    folder.mkdir(parents=True)
    (folder / "site.toml").write_text(f"crs = 'EPSG:32632'\nname = 'made-up {number}'\n")
    rows = [f"B{i},{500_000 + 100 * number + 7 * i},{5_300_000 + i},100,20" for i in range(3)]
    text = "\n".join(["borehole,x,y,ground_elevation_m,depth_m", *rows]) + "\n"
    (folder / "boreholes.csv").write_text(text)
    return folder


def seconds(folder: Path, **how: object) -> float:
    """By the clock."""
    begun = time.perf_counter()
    done = app.portfolio(folder, **how)
    assert not done.failed, done.failed
    return time.perf_counter() - begun


def test_finished_sites_are_gathered(tmp_path: Path) -> None:
    """500 within 30 s on two cores, and within 3 s when nothing has changed: 60 and 6 ms each."""
    first = site(tmp_path / "s0", 0)
    app.run(first)
    for number in range(1, SITES):
        shutil.copytree(first, tmp_path / f"s{number}")
    once, again = seconds(tmp_path), seconds(tmp_path)
    print(
        f"{SITES} sites: {1e3 * once / SITES:.0f} ms each, then {1e3 * again / SITES:.1f} ms each"
    )
    assert once < 0.060 * SITES
    assert again < 0.006 * SITES


def test_two_processes_take_half_the_time(tmp_path: Path) -> None:
    """1.9 times the speed of one."""
    for workers in (1, 2):
        for number in range(RUNS):
            site(tmp_path / str(workers) / f"s{number}", number)
    one, two = (seconds(tmp_path / str(workers), workers=workers) for workers in (1, 2))
    print(f"one process {one:.1f} s, two {two:.1f} s: {one / two:.2f} times")
    assert one / two > 1.9


def rows_of(folder: Path, number: int) -> list[tuple[object, ...]]:
    """The boreholes' paths as stored."""
    with sqlite3.connect(folder / f"s{number}" / "site.gpkg") as connection:
        return connection.execute("SELECT borehole, hex(geom) FROM borehole_path").fetchall()


def test_a_worker_of_the_cluster_is_ended(tmp_path: Path) -> None:
    """All sites are done, and hold what a serial run gives."""
    distributed = pytest.importorskip("distributed")
    for kind in ("serial", "cluster"):
        for number in range(FEW):
            site(tmp_path / kind / f"s{number}", number)
    seconds(tmp_path / "serial", workers=1)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        pids = [worker.pid for worker in cluster.workers.values()]
        end = threading.Timer(3.0, os.kill, (pids[0], signal.SIGKILL))
        end.start()
        seconds(tmp_path / "cluster", scheduler=cluster.scheduler_address)
        end.join()
    for number in range(FEW):
        assert rows_of(tmp_path / "cluster", number) == rows_of(tmp_path / "serial", number)


def test_what_was_finished_is_known_after_the_end(tmp_path: Path) -> None:
    """The command is ended on the way; the next run does the rest and no more."""
    for number in range(FEW):
        site(tmp_path / f"s{number}", number)
    words = [sys.executable, "-m", "geoprofile", "portfolio", str(tmp_path), "--workers", "1"]
    with subprocess.Popen(words) as process:
        while not (tmp_path / "s1" / "out" / "last_run.json").exists():
            time.sleep(0.05)
        process.send_signal(signal.SIGKILL)
    done = app.portfolio(tmp_path)
    assert not done.failed
    assert len(done.sites) == FEW
    assert len(done.computed) < FEW
