"""The main job is killed at random moments: the site file is always whole."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from geoprofile.schema import DERIVED, FIELD
from geoprofile.store import Store, inspect

ROOT = Path(__file__).parents[2]
FEW, MANY = 4, 40


def killed_after(folder: Path, seconds: float) -> bool:
    """Start `run` in a process of its own and kill it; False when it was done before."""
    process = subprocess.Popen(
        [sys.executable, "-m", "geoprofile", "run", str(folder), "--again", "--quiet"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        process.wait()
        return True
    return False


def contents(path: Path, tables: tuple[str, ...]) -> dict[str, str]:
    """The fingerprint of each table."""
    return Store.open(path).fingerprints(list(tables))


def check_kills(demo_run: Path, folder: Path, count: int) -> None:
    """After each kill: sound, all field data there, derived tables of one run."""
    shutil.copytree(demo_run, folder)
    path = folder / "site.gpkg"
    field = tuple(t.name for t in FIELD)
    derived = tuple(t.name for t in DERIVED)
    before, old = contents(path, field), contents(path, derived)
    # other settings, so that a run that ends writes other tables
    (folder / "site.toml").write_text(
        (folder / "site.toml").read_text() + "\n[map_band]\nelevations_m = [0.0]\n"
        "[plume_extent]\nelevations_m = [0.0]\nrealisations = 20\n"
    )
    begun = time.monotonic()
    assert not killed_after(folder, 600)
    length = time.monotonic() - begun
    new = contents(path, derived)
    assert old["map_band"] != new["map_band"]
    chance = random.Random(20260101)
    for _ in range(count):
        shutil.copy(demo_run / "site.gpkg", path)
        killed_after(folder, chance.uniform(0.2, length))
        after = contents(path, derived)
        assert contents(path, field) == before
        assert after in (old, new)
        assert [f for f in inspect(path) if f.severity == "error"] == []


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_killed_run_leaves_all_or_nothing(demo_run: Path, tmp_path: Path) -> None:
    """A few kills at random moments of the whole run."""
    check_kills(demo_run, tmp_path / "site", FEW)


@pytest.mark.calibration
@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_forty_killed_runs_leave_all_or_nothing(demo_run: Path, tmp_path: Path) -> None:
    """Forty kills at random moments of the whole run."""
    check_kills(demo_run, tmp_path / "site", MANY)
