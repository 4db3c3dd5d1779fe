"""Small wrong changes of the package, one at a time, each held against the tests that know it.

    python tests/mutants/mutate.py --count 60 --seed 20261129 --out mutants.jsonl

Modules are found by walking the package and looking at what they hold, tests by what they import,
so that nothing here has to follow when a file moves. The tree itself is never changed: mutants are
made in a copy. A test process is forked from one that has the libraries loaded already.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
PACKAGE = "geoprofile"
EQUIVALENT = Path(__file__).parent / "equivalent.toml"
# what draws, asks a user or speaks SQL computes nothing that this is after
PLUMBING = ("click", "matplotlib", "sqlite3", "fiona", "pyogrio", "xml", "zipfile")
DRAWING = re.compile(r"#[0-9a-fA-F]{6}|<(path|text|g|td|p)\b|svg")
DECLARED = (
    "Setting", "Column", "Table", "Layer", "Method", "Format", "Look", "Symbol", "progress",
)  # fmt: skip
OPERATORS = {ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*")}
TURNED = {ast.Lt: ("<", ">"), ast.LtE: ("<=", ">="), ast.Gt: (">", "<"), ast.GtE: (">=", "<=")}
FACTOR = 1.3
TEXTS = (ast.List, ast.Tuple, ast.JoinedStr, ast.ListComp, ast.Set, ast.Dict)
SLOW = ("calibration", "bench", "faults", "history", "cli", "site", "mutants")
MOST_FILES = 7  # test files for one mutant
PATIENCE = 20  # [-] wall time over processor time until a child is given up
KILLED, LIVED, LATE, BROKEN = "killed", "lived", "late", "broken"
WITNESS = "witness.txt"  # in the copy: the test that failed


@dataclass(frozen=True)
class Mutant:
    """One change: a file of the package, a line and column, and the text before and after."""

    path: str
    line: int
    column: int
    before: str
    after: str
    source: str

    @property
    def key(self) -> str:
        """What stays when lines above it come and go."""
        return f"{Path(self.path).name}: {self.source}: {self.before} -> {self.after}"


def candidates(text: str, path: str = "") -> list[Mutant]:
    """Every change of a sign, a constant or a comparison that a file allows."""
    tree, lines = ast.parse(text), text.splitlines()
    skipped = {id(n) for n in _declarations(tree)}
    paths = "pathlib" in text  # there a slash may join two parts of a path
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped or (
            paths and isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div)
        ):
            continue
        for line, column, before, after in _changes(node, lines):
            source = lines[line - 1].strip()
            found.append(Mutant(path, line, column, before, after, source))
    return sorted(found, key=lambda m: (m.line, m.column))


def _declarations(tree: ast.AST) -> Iterator[ast.AST]:
    """Annotations, messages, and what is declared rather than computed."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr) or (
            isinstance(node, ast.Call) and getattr(node.func, "id", "") in DECLARED
        ):
            yield from ast.walk(node)
        if isinstance(node, ast.AnnAssign):
            yield from ast.walk(node.annotation)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            for argument in (*node.args.args, *node.args.kwonlyargs):
                if argument.annotation:
                    yield from ast.walk(argument.annotation)
            if node.returns:
                yield from ast.walk(node.returns)


def _changes(node: ast.AST, lines: list[str]) -> Iterator[tuple[int, int, str, str]]:
    if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS and _is_number(node):
        before, after = OPERATORS[type(node.op)]
        yield from _between(lines, node.left, node.right, before, after)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in TURNED:
        before, after = TURNED[type(node.ops[0])]
        yield from _between(lines, node.left, node.comparators[0], before, after)
    elif isinstance(node, ast.Constant) and type(node.value) is float and node.value not in (0, 1):
        text = lines[node.lineno - 1].encode()[node.col_offset : node.end_col_offset].decode()
        yield node.lineno, node.col_offset, text, repr(FACTOR * node.value)


def _is_number(node: ast.BinOp) -> bool:
    for side in (node.left, node.right):
        if isinstance(side, TEXTS) or (
            isinstance(side, ast.Constant) and isinstance(side.value, (str, bytes))
        ):
            return False
    return True


def _between(
    lines: list[str], left: ast.expr, right: ast.expr, before: str, after: str
) -> Iterator[tuple[int, int, str, str]]:
    """Where the sign stands between two operands, on one line."""
    assert left.end_lineno is not None
    for number in range(left.end_lineno, right.lineno + 1):
        raw = lines[number - 1].encode()
        start = left.end_col_offset or 0 if number == left.end_lineno else 0
        end = right.col_offset if number == right.lineno else len(raw)
        place = raw[start:end].decode().split("#")[0].find(before)
        if place >= 0:
            yield number, start + place, before, after
            return


def mutated(text: str, mutant: Mutant) -> str:
    """The file with the change made."""
    lines = text.splitlines(keepends=True)
    raw = lines[mutant.line - 1].encode()
    before = mutant.before.encode()
    assert raw[mutant.column : mutant.column + len(before)] == before, mutant
    rest = raw[mutant.column + len(before) :]
    lines[mutant.line - 1] = (raw[: mutant.column] + mutant.after.encode() + rest).decode()
    return "".join(lines)


def imported(path: Path) -> set[str]:
    """Every module or name of the package that a file imports, dotted."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
            found |= {f"{node.module}.{a.name}" for a in node.names}
    return {name for name in found if name.split(".")[0] == PACKAGE}


def computing(root: Path = ROOT) -> dict[str, list[Mutant]]:
    """The files of the package that compute or carry numbers over a border, with their changes."""
    found = {}
    for path in sorted((root / PACKAGE).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        names = {
            (node.module or "") if isinstance(node, ast.ImportFrom) else node.names[0].name
            for node in ast.walk(ast.parse(text))
            if isinstance(node, (ast.Import, ast.ImportFrom))
        }
        if any(name.split(".")[0] in PLUMBING for name in names):
            continue
        if DRAWING.search(text):
            continue
        changes = candidates(text, str(path.relative_to(root)))
        if changes:
            found[str(path.relative_to(root))] = changes
    return found


def drawn(count: int, seed: int, root: Path = ROOT) -> list[Mutant]:
    """So many mutants, each of another file."""
    rng = random.Random(seed)
    files = computing(root)
    chosen = rng.sample(sorted(files), min(count, len(files)))
    return [rng.choice(files[name]) for name in chosen]


class Related:
    """Which tests know a module: those that import it, then those that import what imports it."""

    def __init__(self, root: Path = ROOT) -> None:
        package = [p for p in (root / PACKAGE).rglob("*.py") if p.name != "__init__.py"]
        self.names = {self._dotted(root, p): imported(p) for p in package}
        tests = sorted((root / "tests").rglob("test_*.py"))
        self.tests = {str(p.relative_to(root)): imported(p) for p in tests}
        self.texts = {name: (root / name).read_text(encoding="utf-8") for name in self.tests}
        self.root = root

    @staticmethod
    def _dotted(root: Path, path: Path) -> str:
        return ".".join(path.relative_to(root).with_suffix("").parts)

    def of(self, path: str) -> list[str]:
        """Test files, the nearest first, at most `MOST_FILES`."""
        own = self._dotted(self.root, self.root / path)
        rings: list[set[str]] = [{own}]
        for _ in range(3):
            rings.append({n for n, used in self.names.items() if used & self._faces(rings[-1])})
        files: list[str] = []
        direct: list[str] = []
        for ring in rings:
            faces = self._faces(ring)
            near = [t for t, used in self.tests.items() if used & faces and t not in files]
            files += sorted(near, key=lambda t: (self._is_slow(t), t))
            if ring == rings[0]:
                direct = list(files)
                files += [t for t in self._by_name(path) if t not in files]
        quick = [t for t in files if t in direct or not self._is_slow(t)]
        return (quick or files)[:MOST_FILES]

    def _faces(self, modules: set[str]) -> set[str]:
        """The modules, and the rooms that hand their names on."""
        faces = set(modules)
        for module in modules:
            room = module.rsplit(".", 1)[0]
            front = self.root / (room.replace(".", "/") + "/__init__.py")
            if front.exists() and room != PACKAGE:
                mine = imported(front)
                faces |= {
                    f"{room}.{n.rsplit('.', 1)[1]}" for n in mine if n.startswith(module + ".")
                }
        return faces

    def _by_name(self, path: str) -> list[str]:
        """Plugins are found by scanning: the tests that name one, and those of its contract."""
        text = (self.root / path).read_text(encoding="utf-8")
        if "PLUGIN" not in text:
            return []
        stem = Path(path).stem
        marks = (f'"{stem}"', f'"{stem.replace("_", "-")}"', "import " + stem)
        return [
            t
            for t, words in sorted(self.texts.items())
            if any(m in words for m in marks) or "contract" in t
        ]

    @staticmethod
    def _is_slow(test: str) -> bool:
        return any(part in SLOW for part in Path(test).parts)


def judged(copy: Path, mutant: Mutant, tests: list[str], limit_s: float) -> tuple[str, str]:
    """Whether one of the tests fails on the changed file, and which.

    The test that fails must pass on the file as it was: else the verdict is `broken`.
    """
    path = copy / mutant.path
    text, stamp = path.read_text(encoding="utf-8"), path.stat()
    path.write_text(mutated(text, mutant), encoding="utf-8")
    for cache in path.parent.glob(f"__pycache__/{path.stem}.*"):
        cache.unlink()
    try:
        verdict = _told(copy, tests, limit_s)
    finally:
        path.write_text(text, encoding="utf-8")
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        for cache in path.parent.glob(f"__pycache__/{path.stem}.*.pyc"):
            cache.unlink()
    if verdict != KILLED:
        return verdict, ""
    seen = copy / WITNESS
    witness = seen.read_text(encoding="utf-8") if seen.exists() else ""
    sound = witness and _told(copy, [witness], limit_s) == LIVED
    return (KILLED if sound else BROKEN), witness


def _told(copy: Path, tests: list[str], limit_s: float) -> str:
    """Run the tests in a child with a limit of processor time, however busy the machine is."""
    (copy / WITNESS).unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
        os._exit(_tested(copy, tests))
    end = time.monotonic() + PATIENCE * limit_s
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            if code == -signal.SIGXCPU:
                return LATE
            return LIVED if code in (0, 5) else KILLED
        time.sleep(0.1)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return LATE


class Witness:
    """Writes down the first test that fails."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: D102
        self._note(report)

    def pytest_collectreport(self, report: Any) -> None:  # noqa: D102
        self._note(report)

    def _note(self, report: Any) -> None:
        if report.failed and not self.path.exists():
            self.path.write_text(report.nodeid, encoding="utf-8")


def _tested(copy: Path, tests: list[str]) -> int:
    """The tests in this process, silent."""
    import pytest

    os.chdir(copy)
    sys.path.insert(0, str(copy))
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    try:
        words = ["-x", "-q", "-p", "no:cacheprovider", *tests]
        return int(pytest.main(words, plugins=[Witness(copy / WITNESS)]))
    except BaseException:  # whatever falls over has seen the change
        return 1


def copied(place: Path) -> Path:
    """A copy of the package and its tests that may be corrupt."""
    for name in (PACKAGE, "tests", "demo_site"):
        ignore = shutil.ignore_patterns("*.gpkg*", "out")
        shutil.copytree(ROOT / name, place / name, ignore=ignore)
    shutil.copy(ROOT / "pyproject.toml", place)
    return place


def equivalents() -> dict[str, str]:
    """Changes that change no result, with the reason."""
    if not EQUIVALENT.exists():
        return {}
    listed = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("equivalent", [])
    return {one["change"]: one["reason"] for one in listed}


def preload() -> None:
    """The libraries that every test needs, once; none of the package itself."""
    for name in ("geopandas", "numba", "pytest", "scipy.optimize", "scipy.stats"):
        __import__(name)


def run(count: int, seed: int, out: Path | None, limit_s: float, skip: int = 0) -> list[dict]:
    """Judge the mutants one after the other; what came out, one record each."""
    preload()
    related, known, records = Related(), equivalents(), []
    with tempfile.TemporaryDirectory() as place:
        copy = copied(Path(place))
        for mutant in drawn(count, seed)[skip:]:
            tests = related.of(mutant.path)
            begun = time.monotonic()
            verdict, witness = judged(copy, mutant, tests, limit_s) if tests else (LIVED, "")
            record = {
                **asdict(mutant),
                "verdict": verdict,
                "witness": witness,
                "tests": tests,
                "key": mutant.key,
            }
            record["seconds"] = round(time.monotonic() - begun, 1)
            record["equivalent"] = known.get(mutant.key, "")
            records.append(record)
            if out is not None:
                with out.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(record) + "\n")
    return records


def share_killed(records: list[dict]) -> float:
    """Killed, of those that change a result; one that ran out of time counts as alive."""
    real = [r for r in records if not r["equivalent"]]
    return sum(r["verdict"] == KILLED for r in real) / len(real) if real else 1.0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=20261129)
    parser.add_argument("--skip", type=int, default=0)
    parser.add_argument(
        "--limit", type=float, default=600.0, help="processor seconds for one mutant"
    )
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    print(share_killed(run(given.count, given.seed, given.out, given.limit, given.skip)))
