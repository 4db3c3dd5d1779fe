"""The demonstration site, run once through the real command, for every test that looks at it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from beside import module_of
from warm_process import WarmProcess

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_site"
LONGEST_RUN_S = 900.0

Answer = subprocess.CompletedProcess[str]
Command = Callable[..., Answer]


@pytest.fixture(scope="session")
def fresh_command() -> Command:
    """Run `geoprofile` as a user would, in a new process of Python."""

    def call(*words: object, cwd: Path | None = None, fork: bool = True) -> Answer:
        assert fork, "there is no process to be left warmer"
        return subprocess.run(
            [sys.executable, "-m", "geoprofile", *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
            cwd=cwd,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )

    return call


@pytest.fixture(scope="session")
def command(fresh_command: Command) -> Iterator[Command]:
    """Run `geoprofile` in a process of its own, without waiting for its imports each time."""
    if not hasattr(os, "fork"):
        yield fresh_command
        return
    process = WarmProcess()

    def call(*words: object, cwd: Path | None = None, **how: Any) -> Answer:
        return process.run([str(w) for w in words], cwd, os.environ, **how)

    yield call
    process.close()


def copy_demo(folder: Path) -> Path:
    """A copy of the demonstration site as it is committed: inputs only."""
    ignore = shutil.ignore_patterns("*.gpkg*", "out", "maker", "pictures", "__pycache__")
    shutil.copytree(DEMO, folder, ignore=ignore)
    return folder


@pytest.fixture
def demo_copy(tmp_path: Path) -> Path:
    """A fresh copy of the demonstration inputs."""
    return copy_demo(tmp_path / "demo_site")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests that look at the demonstration come last: it is run beside the others meanwhile.

    Worker processes of one test run share it: whoever comes first starts it.
    """
    late = [item for item in items if "demo_run" in getattr(item, "fixturenames", ())]
    if not late or config.option.collectonly:
        return
    known = set(map(id, late))
    items[:] = [*(item for item in items if id(item) not in known), *late]


@pytest.fixture(scope="session", autouse=True)
def demo_beside(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> Iterator[Path]:
    """The folder where the demonstration is run in a process beside the tests, if any needs it."""
    place = tmp_path_factory.getbasetemp()
    shared = (place if worker_id == "master" else place.parent) / "run"
    if not any("demo_run" in getattr(item, "fixturenames", ()) for item in request.session.items):
        yield shared
        return
    try:
        shared.mkdir()
    except FileExistsError:
        yield shared
        return
    process = subprocess.Popen(
        [sys.executable, __file__, str(copy_demo(shared / "demo_site")), str(shared)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    yield shared
    process.wait()  # another worker may still look at it


@pytest.fixture(scope="session")
def demo_answer(demo_beside: Path) -> tuple[Path, Answer]:
    """The folder of a demonstration that was run, and what the command answered."""
    return demo_beside / "demo_site", _answer_of(demo_beside / "answer.json")


def _run_beside(folder: str, shared: Path) -> None:
    """Run the demonstration as a user would; leave the answer in one piece."""
    answer = subprocess.run(
        [sys.executable, "-m", "geoprofile", "run", folder],
        capture_output=True,
        text=True,
        check=False,
    )
    _leave(answer, shared)


def _leave(answer: Answer, shared: Path) -> None:
    words = {"code": answer.returncode, "out": answer.stdout, "err": answer.stderr}
    part = shared / "answer.part"
    part.write_text(json.dumps(words), encoding="utf-8")
    part.rename(shared / "answer.json")


def _answer_of(said: Path) -> Answer:
    """What the command answered, as soon as it has."""
    until = time.monotonic() + LONGEST_RUN_S
    while not said.exists():
        assert time.monotonic() < until, "the run of the demonstration does not end"
        time.sleep(0.2)
    words = json.loads(said.read_text(encoding="utf-8"))
    return subprocess.CompletedProcess([], words["code"], words["out"], words["err"])


@pytest.fixture(scope="session")
def demo_run(demo_answer: tuple[Path, Answer]) -> Path:
    """The folder of the demonstration that was run. Treat it as read-only."""
    folder, answer = demo_answer
    assert answer.returncode == 0, answer.stderr
    return folder


@pytest.fixture(scope="session")
def small_run(tmp_path_factory: pytest.TempPathFactory, worker_id: str, command: Command) -> Path:
    """The small site of the fault tests after one run, made once for all worker processes.

    Treat it as read-only.
    """
    base = tmp_path_factory.getbasetemp()
    shared = (base if worker_id == "master" else base.parent) / "small_run"
    folder = shared / "site"
    try:
        shared.mkdir()
    except FileExistsError:
        answer = _answer_of(shared / "answer.json")
    else:
        module_of("faults/small_site.py").write_small_site(folder)
        answer = command("run", ".", cwd=folder, fork=not hasattr(os, "fork"))
        _leave(answer, shared)
    assert answer.returncode == 0, answer.stderr
    return folder


if __name__ == "__main__":
    _run_beside(sys.argv[1], Path(sys.argv[2]))
