"""Worker processes end with the process that started them, however that one ended."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PARENT = """
import sys, time
import numpy as np
from geoprofile import kriging

if __name__ == "__main__":
    places = np.random.default_rng(1).uniform(0, 50, (700, 3))
    parameters = kriging.Parameters(
        sill=0.5, nugget=0.05, length_along_m=60, length_across_m=30, length_vertical_m=3
    )
    data = kriging.Data(support=kriging.Support.from_points(places), value=places[:, 0])
    model = kriging.krige(data, parameters)
    with kriging.processes(2):
        model.predict(kriging.Lattice(origin=(0, 0, 0), step=(1, 1, 1), count=(62, 54, 11)))
        print("ready", flush=True)
        time.sleep(600)
"""


def children_of(pid):
    """The processes that a process has started; any of its threads may have."""
    threads = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for listed in threads for child in listed.read_text().split()]


def is_running(pid):
    """Whether a process is there and does something: not one that only waits to be noticed."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state not in "ZX"


@pytest.mark.skipif(sys.platform != "linux", reason="children are looked up in /proc")
def test_a_killed_parent_leaves_no_worker(tmp_path):
    """Two workers and their helper are gone some seconds after the parent was killed."""
    script = tmp_path / "parent.py"
    script.write_text(PARENT)
    with subprocess.Popen(
        [sys.executable, script],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as parent:
        try:
            assert parent.stdout.readline() == "ready\n"
            children = children_of(parent.pid)
            assert len(children) >= 2
            assert all(map(is_running, children))
        finally:  # or its end would be waited for
            parent.kill()
        parent.wait()
        until = time.monotonic() + 60
        while any(map(is_running, children)) and time.monotonic() < until:
            time.sleep(0.1)
        left = [pid for pid in children if is_running(pid)]
        for pid in left:
            os.kill(pid, signal.SIGKILL)
        assert left == []
