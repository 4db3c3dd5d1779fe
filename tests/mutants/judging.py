"""Mutants held against the tests that reach them, in forks of one process that has the libraries.

A test file is run once in a copy with marks (`probes`), for all mutants: that tells which of its
tests reach which mutant, that they pass, and what they take. A mutant then meets the tests that
reach it, nearest file first, the cheapest of a file first, and the first failure ends it. One that
lives meets the other tests of these files too.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import probes
from related import PACKAGE, ROOT

if TYPE_CHECKING:
    from mutate import Mutant

KILLED, LIVED, LATE, UNREACHED, BROKEN = "killed", "lived", "late", "unreached", "broken"
BROKE = 77  # exit code
AS_IT_WAS = ".kept"
PATIENCE = 20  # [-] wall time over processor time until a child is given up
TIMES, LEAST_S = 10.0, 40.0  # processor time allowed: so many times that of the tests, at least
LEARN_S = 60.0  # processor seconds of a test file that serves
MOST_FILES_S = 30.0  # processor seconds of tests for one mutant
LIBRARIES = (
    "geopandas", "matplotlib.figure", "numba", "pytest", "scipy.optimize",
    "scipy.stats",
)  # fmt: skip


@dataclass
class Known:
    """What a run with marks told of one test file."""

    cpu: dict[str, float] = field(default_factory=dict)  # [s] of each test that passes
    reached: dict[int, list[str]] = field(default_factory=dict)  # tests that reach a mutant
    start_s: float = 0.0  # imports and collection

    @classmethod
    def read(cls, said: dict[str, Any]) -> Known:
        """As it was written down."""
        reached = {int(number): tests for number, tests in said["reached"].items()}
        return cls(said["cpu"], reached, said["start_s"])


def preload() -> None:
    """The libraries that every test needs, once; none of the package itself."""
    for name in LIBRARIES:
        __import__(name)


def copied(place: Path) -> Path:
    """A copy of the package and its tests that may be corrupt."""
    for name in (PACKAGE, "tests", "demo_site"):
        ignore = shutil.ignore_patterns("*.gpkg*", "out")
        shutil.copytree(ROOT / name, place / name, ignore=ignore)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, place)
    return place


class Court:
    """Judges mutants, each by its test files; what it learned of these serves all of them."""

    def __init__(self, place: Path, mutants: list[Mutant], tests: list[list[str]]) -> None:
        preload()
        self.place, self.mutants, self.tests = place, mutants, tests
        self.clean, self.marked = place / "clean", place / "marked"
        self.notes = place / "told" / "files.json"
        if not self.notes.exists():
            for name in ("clean", "marked", "told"):
                (place / name).mkdir(parents=True)
            copied(self.clean)
            probes.write_marks(copied(self.marked), mutants)
            self.notes.write_text("{}", encoding="utf-8")
        for kept in self.clean.rglob(f"*{AS_IT_WAS}"):  # whoever changed it was stopped
            kept.replace(kept.with_suffix(""))
        said = json.loads(self.notes.read_text(encoding="utf-8"))
        self.files = {name: Known.read(words) for name, words in said.items()}

    def judged(self, number: int) -> dict[str, Any]:
        """The verdict on one mutant, the test that failed, and what it took."""
        mutant, begun = self.mutants[number], _children_s()
        verdict, witness, spent, met = UNREACHED, "", 0.0, []
        with Changed(self.clean, mutant) as env:
            for name in self.tests[number]:
                if spent > MOST_FILES_S:
                    break
                tests = self.reaching(number, name)
                if not tests:
                    continue
                rest = [t for t in self.files[name].cpu if t not in tests]
                spent += sum(self.files[name].cpu.values())
                met.append(name)
                verdict, witness = self.told(name, tests + rest, env)
                if verdict != LIVED:
                    break
        taken = round(_children_s() - begun, 1)
        return {"verdict": verdict, "witness": witness, "tests": met, "cpu_s": taken}

    def reaching(self, number: int, name: str) -> list[str]:
        """The tests of a file that reach a mutant, the cheapest first."""
        if name not in self.files:
            self.files[name] = self._learned(name)
            said = {file: asdict(one) for file, one in self.files.items()}
            self.notes.write_text(json.dumps(said), encoding="utf-8")
        known = self.files[name]
        if "/template/" in self.mutants[number].path:
            return sorted(known.cpu, key=known.cpu.__getitem__)
        return sorted(known.reached.get(number, []), key=known.cpu.__getitem__)

    def _learned(self, name: str) -> Known:
        told = self.place / "told" / "known.json"
        told.unlink(missing_ok=True)
        code = _child(self.marked, [name], "learn", told, {}, LEARN_S)
        if not told.exists():
            if code == BROKE:
                raise RuntimeError(f"the tests of {name} did not run as they are")
            return Known()  # too long: a mutant that only these reach counts as alive
        return Known.read(json.loads(told.read_text(encoding="utf-8")))

    def told(self, name: str, tests: list[str], env: dict[str, str]) -> tuple[str, str]:
        """Run tests of one file on the changed package, in this order, to the first that fails."""
        known = self.files[name]
        allowed = LEAST_S + TIMES * (known.start_s + sum(known.cpu[t] for t in tests))
        told = self.place / "told" / "failed.txt"
        told.unlink(missing_ok=True)
        code = _child(self.clean, [name, *tests], "judge", told, env, allowed)
        if code in (None, -signal.SIGXCPU, -signal.SIGKILL):
            return LATE, ""
        if code in (0, 5):
            return LIVED, ""
        return (KILLED, told.read_text(encoding="utf-8")) if told.exists() else (BROKEN, "")


class Changed:
    """A file of the copy with the change made, until the block ends."""

    def __init__(self, copy: Path, mutant: Mutant) -> None:
        self.path, self.mutant = copy / mutant.path, mutant
        self.text = self.path.read_text(encoding="utf-8")

    def __enter__(self) -> dict[str, str]:
        shutil.copy2(self.path, f"{self.path}{AS_IT_WAS}")
        self.path.write_text(self.mutant.applied(self.text), encoding="utf-8")
        self._forget()
        if "@compiled" not in self.text:
            return {}
        # loops of other files hold this one's in their machine code: none that is kept may serve
        self.kept = tempfile.mkdtemp(prefix="loops")
        return {"NUMBA_CACHE_DIR": self.kept}

    def __exit__(self, *_: object) -> None:
        Path(f"{self.path}{AS_IT_WAS}").replace(self.path)
        self._forget()
        if "@compiled" in self.text:
            shutil.rmtree(self.kept)

    def _forget(self) -> None:
        for cache in self.path.parent.glob(f"__pycache__/{self.path.stem}.*.pyc"):
            cache.unlink()


def _children_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def _all_s() -> float:
    own = resource.getrusage(resource.RUSAGE_SELF)
    return own.ru_utime + own.ru_stime + _children_s()


def _child(
    copy: Path, words: list[str], task: str, told: Path, env: dict[str, str], limit_s: float
) -> int | None:
    """A task in a fork with a limit of processor time; its exit code, None if it was given up."""
    child = os.fork()
    if child == 0:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
        os.environ.update({**env, "PYTHONPATH": str(copy)})
        if task == "learn":
            os.environ[probes.HITS] = str(told.with_suffix(".hits"))
        watch = Learning(told) if task == "learn" else Failing(told, words[1:])
        try:
            os._exit(_tested(copy, words[0], watch))
        finally:
            os._exit(BROKE)  # the tests did not even begin: no verdict
    end = time.monotonic() + PATIENCE * limit_s
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _tested(copy: Path, name: str, watch: Any) -> int:
    """The tests of a file in this process, silent."""
    import numba.core.config
    import pytest

    kept: Any = numba.core.config
    kept.CACHE_DIR = os.environ.get("NUMBA_CACHE_DIR", "")
    silence(copy)
    first = ["-x"] if isinstance(watch, Failing) else []
    return int(pytest.main([*first, "-q", "-p", "no:cacheprovider", name], plugins=[watch]))


def silence(copy: Path) -> None:
    """Work in the copy, and say nothing."""
    os.environ["PYTHONPATH"] = str(copy)
    os.chdir(copy)
    sys.path.insert(0, str(copy))
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)


def without_demonstration(items: list[Any]) -> list[Any]:
    """The whole demonstration takes a minute: no mutant is held against it."""
    return [i for i in items if not {"demo_run", "demo_answer"} & set(i.fixturenames)]


class Patient:
    """On a busy machine a test may take long: no mutant is seen by that."""

    def pytest_configure(self) -> None:  # noqa: D102
        from hypothesis import settings

        settings.register_profile("mutants", deadline=None)
        settings.load_profile("mutants")


class Failing(Patient):
    """Keeps the tests that are asked for, in their order, and writes down the first that fails."""

    def __init__(self, told: Path, tests: list[str]) -> None:
        self.told, self.place = told, {test: i for i, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:  # noqa: D102
        items[:] = [i for i in items if i.nodeid in self.place]
        items.sort(key=lambda i: self.place[i.nodeid])

    def pytest_collectreport(self, report: Any) -> None:  # noqa: D102
        self._note(report)

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: D102
        self._note(report)

    def _note(self, report: Any) -> None:
        if report.failed and not self.told.exists():
            self.told.write_text(report.nodeid or "collection", encoding="utf-8")


class Learning(Patient):
    """Which tests pass, which marks they reach, and what they take."""

    def __init__(self, told: Path) -> None:
        self.told, self.begun = told, _all_s()
        self.start_s = 0.0
        self.cpu: dict[str, float] = {}
        self.failed: set[str] = set()
        self.hits: dict[str, set[int]] = {}
        self.shared: dict[str, set[int]] = {}  # by fixtures that several tests share

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:  # noqa: D102
        items[:] = without_demonstration(items)

    def pytest_collection_finish(self) -> None:  # noqa: D102
        self.start_s = _all_s() - self.begun
        self.imported = probes.read_hits()

    def pytest_runtest_logstart(self) -> None:  # noqa: D102
        self.begun = _all_s()

    def pytest_runtest_call(self, item: Any) -> None:
        """What the setup reached counts for every test that shares a fixture with this one."""
        reached = probes.read_hits()
        self.hits.setdefault(item.nodeid, set()).update(reached)
        for name in _shared(item):
            self.shared.setdefault(name, set()).update(reached)
            self.hits[item.nodeid] |= self.shared[name]

    def pytest_runtest_teardown(self, item: Any) -> None:  # noqa: D102
        self.hits.setdefault(item.nodeid, set()).update(probes.read_hits())

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: D102
        if report.failed:
            self.failed.add(report.nodeid)

    def pytest_runtest_logfinish(self, nodeid: str) -> None:  # noqa: D102
        self.cpu[nodeid] = round(_all_s() - self.begun, 3)

    def pytest_sessionfinish(self) -> None:  # noqa: D102
        passed = [t for t in self.cpu if t not in self.failed]
        reached = {
            n: [t for t in passed if n in self.hits.get(t, set()) | self.imported]
            for n in self.imported.union(*self.hits.values())
        }
        said = {
            "cpu": {t: self.cpu[t] for t in passed},
            "reached": {n: tests for n, tests in reached.items() if tests},
            "start_s": self.start_s,
        }
        self.told.write_text(json.dumps(said), encoding="utf-8")


def _shared(item: Any) -> list[str]:
    definitions = item._fixtureinfo.name2fixturedefs
    return [n for n, found in definitions.items() if found and found[-1].scope != "function"]
