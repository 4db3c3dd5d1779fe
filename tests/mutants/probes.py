"""Which tests reach a changed place: the package with a mark before each, and what the marks tell.

A mark is one line that writes down its number, so that the tests of one file are run once for all
mutants. A number that stands outside functions is marked where its name is used, and a compiled
loop where it is called, because neither can tell by itself when it is.
"""

from __future__ import annotations

import ast
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from related import PACKAGE, dotted

if TYPE_CHECKING:
    from mutate import Mutant

HITS = "MUTANT_HITS"  # the variable that names the file of marks
PROBE = f'''"""Marks that a place was reached."""
import os

seen = set()


def hit(number):
    """Write the number down, once until `seen` is emptied."""
    if number not in seen and "{HITS}" in os.environ:
        seen.add(number)
        with open(os.environ["{HITS}"], "a", encoding="utf-8") as stream:
            stream.write(f"{{number}}\\n")
'''
MARK = f"__import__('{PACKAGE}._probe', fromlist=['hit']).hit"
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)
Node = ast.AST


def write_marks(copy: Path, mutants: list[Mutant]) -> None:
    """Put the marks into a copy of the package."""
    (copy / PACKAGE / "_probe.py").write_text(PROBE, encoding="utf-8")
    package = Package(copy)
    lines: dict[str, set[tuple[int, int]]] = {}
    for number, mutant in enumerate(mutants):
        for path, line in package.places(mutant):
            lines.setdefault(path, set()).add((line, number))
    for path, marks in lines.items():
        text = (copy / path).read_text(encoding="utf-8").splitlines(keepends=True)
        for line, number in sorted(marks, reverse=True):
            before = text[line - 1]
            indent = before[: len(before) - len(before.lstrip())]
            text.insert(line - 1, f"{indent}{MARK}({number})\n")
        (copy / path).write_text("".join(text), encoding="utf-8")


class Package:
    """The files of a package as trees, with what stands around a place."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.trees: dict[str, ast.Module] = {}
        self.lines: dict[str, list[str]] = {}
        # by name: where it is read, as a name or as an attribute; where it is imported from
        self.read: dict[str, list[tuple[str, int, int]]] = {}
        self.attributes: dict[str, list[tuple[str, int, int]]] = {}
        self.imports: dict[tuple[str, str], list[tuple[str, str]]] = {}
        for path in sorted((root / PACKAGE).rglob("*.py")):
            name, text = str(path.relative_to(root)), path.read_text(encoding="utf-8")
            self.trees[name], self.lines[name] = ast.parse(text), text.splitlines()
            for node in ast.walk(self.trees[name]):
                self._note(name, node)

    def _note(self, path: str, node: Node) -> None:
        if isinstance(node, ast.Name):
            place = (path, node.lineno, node.col_offset)
            self.read.setdefault(node.id, []).append(place)
        elif isinstance(node, ast.Attribute):
            place = (path, node.lineno, node.col_offset)
            self.attributes.setdefault(node.attr, []).append(place)
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                key = (node.module or "", alias.name)
                self.imports.setdefault(key, []).append((path, alias.asname or alias.name))

    def places(self, mutant: Mutant) -> set[tuple[str, int]]:
        """Files and lines before which a mark tells that the change is met."""
        if "/template/" in mutant.path:
            return set()  # runs without the package
        around = self._around(mutant.path, mutant.line, mutant.column)
        function = next((n for n in around if isinstance(n, FUNCTIONS)), None)
        if function is not None and not is_compiled(function):
            inner = self._statement(mutant.path, around[around.index(function) :])
            first = function.body[min(1, len(function.body) - 1)].lineno  # after the docstring
            return {(mutant.path, inner if inner != start_of(function) else first)}
        used: set[tuple[str, int]] = set()
        if isinstance(around[1], ast.ClassDef) and function is None:
            for name in self._names(None, around[1:]):
                used |= {p for at in self.attributes.get(name, []) for p in self._use(*at)}
        else:
            names = self._names(function, around)
            used = {place for name in names for place in self._uses(mutant.path, name)}
        return used or {(mutant.path, start_of(around[1]))}

    def _around(self, path: str, line: int, column: int) -> list[Node]:
        """The tree's nodes that hold a place, the outermost first."""
        found: list[Node] = [self.trees[path]]
        while True:
            for child in ast.iter_child_nodes(found[-1]):
                first = getattr(child, "lineno", None)
                if first is None:
                    if any(holds(n, line, column) for n in ast.walk(child)):
                        found.append(child)
                        break
                elif holds(child, line, column):
                    found.append(child)
                    break
            else:
                return found

    def _statement(self, path: str, around: list[Node]) -> int:
        """The line of the innermost statement before which a line may be put."""
        lines = self.lines[path]
        for node in reversed(around):
            if isinstance(node, ast.stmt):
                line = start_of(node)
                before = lines[line - 1].encode()[: node.col_offset].decode()
                if not before.strip() and not lines[line - 1].lstrip().startswith("elif "):
                    return line
        return start_of(around[0])

    @staticmethod
    def _names(function: Node | None, around: list[Node]) -> set[str]:
        """What the value is called by: a constant or a compiled loop."""
        if isinstance(function, FUNCTIONS):
            return {function.name}
        top = around[1]
        targets = top.targets if isinstance(top, ast.Assign) else [getattr(top, "target", top)]
        return {n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)}

    def _uses(self, path: str, name: str) -> Iterator[tuple[str, int]]:
        """Statements of ordinary functions that read a name of a file, wherever it is imported."""
        module = dotted(self.root, self.root / path)
        known = {(path, name), *self.imports.get((module, name), [])}
        for other, called in known:
            for at in self.read.get(called, []):
                if at[0] == other:
                    yield from self._use(*at, own=name)

    def _use(self, path: str, line: int, column: int, own: str = "") -> Iterator[tuple[str, int]]:
        """The statement, or what calls the compiled loop in which it stands."""
        around = self._around(path, line, column)
        function = next((n for n in around if isinstance(n, FUNCTIONS)), None)
        if function is None:
            return
        if not is_compiled(function):
            yield path, self._statement(path, around[around.index(function) + 1 :])
        elif function.name != own:
            yield from self._uses(path, function.name)


def holds(node: Any, line: int, column: int) -> bool:
    """Whether a node spans a place (column in bytes)."""
    if not hasattr(node, "lineno"):
        return False
    start, end = (start_of(node), 0), (node.end_lineno, node.end_col_offset)
    if start[0] == node.lineno:
        start = (node.lineno, node.col_offset)
    return start <= (line, column) < end


def start_of(node: Node) -> int:
    """Its first line, decorators included."""
    above = [d.lineno for d in getattr(node, "decorator_list", [])]
    return int(min([getattr(node, "lineno", 1), *above]))


def is_compiled(function: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    """Whether a function becomes machine code, where no mark can be."""
    names = {n.id for d in function.decorator_list for n in ast.walk(d) if isinstance(n, ast.Name)}
    return bool(names & {"compiled", "njit", "numba"})


def read_hits() -> set[int]:
    """The marks reached since the last call."""
    place = Path(os.environ[HITS])
    found = {int(n) for n in place.read_text(encoding="utf-8").split()} if place.exists() else set()
    place.unlink(missing_ok=True)
    import sys

    probe = sys.modules.get(f"{PACKAGE}._probe")
    if probe is not None:
        probe.seen.clear()
    return found
