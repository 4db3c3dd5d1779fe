"""Small wrong changes of the package, one at a time, each held against the tests that reach it.

    python tests/mutants/mutate.py --count 60 --seed 20261129 --out mutants.jsonl

Modules are found by walking the package and looking at what they hold, tests by what they import,
so that nothing here has to follow when a file moves. The tree itself is never changed: mutants are
made in a copy. With `--out`, what was judged before is not judged again.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import re
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from math import inf
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from judging import KILLED, Court
from related import PACKAGE, ROOT, Related
from warm import looked_at

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
AT_A_TIME = 10  # mutants in one session of tests
LOOKED = "looked"  # and not seen: to be judged
TEXTS = (ast.List, ast.Tuple, ast.JoinedStr, ast.ListComp, ast.Set, ast.Dict)


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

    def applied(self, text: str) -> str:
        """The file with the change made."""
        lines = text.splitlines(keepends=True)
        raw = lines[self.line - 1].encode()
        before = self.before.encode()
        assert raw[self.column : self.column + len(before)] == before, self
        rest = raw[self.column + len(before) :]
        lines[self.line - 1] = (raw[: self.column] + self.after.encode() + rest).decode()
        return "".join(lines)


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
    """So many mutants, each of another file.

    Chance lies in the names: a file more or less leaves the choice of the others as it was.
    """
    files = computing(root)
    chosen = sorted(files, key=lambda name: _chance(seed, name))[:count]
    return [min(files[name], key=lambda m: _chance(seed, m.key)) for name in chosen]


def _chance(seed: int, words: str) -> bytes:
    return hashlib.sha256(f"{seed} {words}".encode()).digest()


def equivalents() -> dict[str, str]:
    """Changes that change no result, with the reason."""
    if not EQUIVALENT.exists():
        return {}
    listed = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("equivalent", [])
    return {one["change"]: one["reason"] for one in listed}


def run(
    count: int, seed: int, place: Path, out: Path | None = None, most_s: float = inf
) -> list[dict[str, Any]]:
    """Judge the mutants one after the other; what came out, one record each.

    `place` holds the copies and what was learned of the tests, for another time if it is kept.
    """
    known = {} if out is None or not out.exists() else _read(out)
    plan = place / "plan.json"
    if not plan.exists():
        related = Related()
        listed = [(asdict(m), related.of(m.path)) for m in drawn(count, seed)]
        plan.write_text(json.dumps(listed), encoding="utf-8")
    said = json.loads(plan.read_text(encoding="utf-8"))
    mutants = [Mutant(**one) for one, _ in said]
    tests = [files for _, files in said]
    court, begun = Court(place, mutants, tests), time.monotonic()

    def noted(number: int, **verdict: Any) -> None:
        mutant = mutants[number]
        known[mutant.key] = {**asdict(mutant), "key": mutant.key, **verdict}
        if out is not None:
            with out.open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(known[mutant.key]) + "\n")

    def is_time() -> bool:
        return time.monotonic() <= begun + most_s

    left = [n for n, m in enumerate(mutants) if m.key not in known]
    for some in [left[k : k + AT_A_TIME] for k in range(0, len(left), AT_A_TIME)]:
        if is_time():
            chosen = [(mutants[n], tests[n]) for n in some]
            seen = looked_at(court.clean, place / "seen.txt", chosen)
            for number, witness in zip(some, seen, strict=True):
                noted(number, verdict=KILLED if witness else LOOKED, witness=witness)
    for number, mutant in enumerate(mutants):
        if is_time() and known.get(mutant.key, {}).get("verdict") == LOOKED:
            noted(number, **court.judged(number))
    reasons = equivalents()
    told = [known[m.key] for m in mutants if known.get(m.key, {}).get("verdict", LOOKED) != LOOKED]
    return [{**record, "equivalent": reasons.get(record["key"], "")} for record in told]


def _read(out: Path) -> dict[str, dict[str, Any]]:
    """What was judged before: the last record of each."""
    lines = out.read_text(encoding="utf-8").splitlines()
    return {record["key"]: record for record in map(json.loads, lines)}


def share_killed(records: list[dict[str, Any]]) -> float:
    """Killed, of those that change a result; one that ran out of time counts as alive."""
    real = [r for r in records if not r["equivalent"]]
    return sum(r["verdict"] == KILLED for r in real) / len(real) if real else 1.0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=20261129)
    parser.add_argument("--out", type=Path, help="what is judged there is not judged again")
    parser.add_argument("--place", type=Path, help="folder for the copies, kept for another time")
    parser.add_argument("--most", type=float, default=inf, help="seconds after which none begins")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as spare:
        judged = run(given.count, given.seed, given.place or Path(spare), given.out, given.most)
    for one in judged:
        print(one["verdict"], one["key"], one["witness"] or one["equivalent"])
    print(f"{share_killed(judged):.3f} of {len(judged)} judged, those that change a result, killed")
    sys.exit(0 if len(judged) == given.count else 3)
