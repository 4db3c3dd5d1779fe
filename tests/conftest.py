"""The demonstration site, run once through the real command, for every test that looks at it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_site"

Answer = subprocess.CompletedProcess[str]
Command = Callable[..., Answer]


@pytest.fixture(scope="session")
def command() -> Command:
    """Run `geoprofile` as a user would, in a process of its own."""

    def call(*words: object, cwd: Path | None = None) -> Answer:
        return subprocess.run(
            [sys.executable, "-m", "geoprofile", *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
            cwd=cwd,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )

    return call


def copy_demo(folder: Path) -> Path:
    """A copy of the demonstration site as it is committed: inputs only."""
    ignore = shutil.ignore_patterns("*.gpkg*", "out", "maker", "pictures", "__pycache__")
    shutil.copytree(DEMO, folder, ignore=ignore)
    return folder


@pytest.fixture
def demo_copy(tmp_path: Path) -> Path:
    """A fresh copy of the demonstration inputs."""
    return copy_demo(tmp_path / "demo_site")


@pytest.fixture(scope="session")
def demo_answer(tmp_path_factory: pytest.TempPathFactory, command: Command) -> tuple[Path, Answer]:
    """The folder of a demonstration that was run, and what the command answered."""
    folder = copy_demo(tmp_path_factory.mktemp("run") / "demo_site")
    return folder, command("run", folder)


@pytest.fixture(scope="session")
def demo_run(demo_answer: tuple[Path, Answer]) -> Path:
    """The folder of the demonstration that was run. Treat it as read-only."""
    folder, answer = demo_answer
    assert answer.returncode == 0, answer.stderr
    return folder
