"""The quick look: the change is made in a process that has package and tests imported already.

One session of pytest collects the tests; for each mutant a fork gives the functions that it changes
their new code, or a constant its new value wherever it is known, and runs the tests of its files
to the first failure. A test that then fails and passes without the change has seen it. Whatever
lives here is judged again by fresh imports (`judging`): values made at import, loops that are
compiled and other processes are not reached this way.
"""

from __future__ import annotations

import ast
import gc
import importlib
import os
import resource
import sys
from pathlib import Path
from types import CodeType, FunctionType
from typing import TYPE_CHECKING, Any

import judging
from probes import FUNCTIONS, holds, is_compiled, start_of
from related import PACKAGE, dotted

if TYPE_CHECKING:
    from mutate import Mutant

LIMIT_S = 12.0  # processor time of one look


def looked_at(copy: Path, told: Path, mutants: list[tuple[Mutant, list[str]]]) -> list[str]:
    """For each mutant the test that saw it, '' for none."""
    told.unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        try:
            _session(copy, told, mutants)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    lines = told.read_text(encoding="utf-8").split("\n")[:-1] if told.exists() else []
    return lines + [""] * (len(mutants) - len(lines))


def _session(copy: Path, told: Path, mutants: list[tuple[Mutant, list[str]]]) -> None:
    import pytest

    judging.silence(copy)
    files = list(dict.fromkeys(f for _, tests in mutants for f in tests))
    pytest.main(["-q", "-p", "no:cacheprovider", *files], plugins=[Looking(copy, told, mutants)])


class Looking(judging.Patient):
    """Takes the place of the loop over the tests."""

    def __init__(self, copy: Path, told: Path, mutants: list[tuple[Mutant, list[str]]]) -> None:
        self.copy, self.told, self.mutants = copy, told, mutants
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:  # noqa: D102
        items[:] = judging.without_demonstration(items)

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: D102
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_runtestloop(self, session: Any) -> bool:  # noqa: D102
        for mutant, files in self.mutants:
            order = {name: place for place, name in enumerate(files)}
            items = [i for i in session.items if i.nodeid.split("::")[0] in order]
            items.sort(key=lambda i: order[i.nodeid.split("::")[0]])
            seen = self._first_failure(items, mutant)
            if seen and self._first_failure([i for i in items if i.nodeid == seen], None):
                seen = ""  # it fails as things are
            with self.told.open("a", encoding="utf-8") as stream:
                stream.write(f"{seen}\n")
        return True

    def _first_failure(self, items: list[Any], mutant: Mutant | None) -> str:
        """In a fork: the first test that fails, '' for none or where time ran out."""
        ends, begins = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                resource.setrlimit(resource.RLIMIT_CPU, (int(LIMIT_S), int(LIMIT_S)))
                if mutant is None or changed(self.copy, mutant):
                    self._run(items)
                os.write(begins, self.failed.encode())
            finally:
                os._exit(0)
        os.close(begins)
        with os.fdopen(ends, encoding="utf-8") as stream:
            seen = stream.read()
        os.waitpid(child, 0)
        return seen

    def _run(self, items: list[Any]) -> None:
        for item, following in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                return


def changed(copy: Path, mutant: Mutant) -> bool:
    """Make the change in this process; False where it cannot be made so."""
    if "/template/" in mutant.path:
        return False
    path = copy / mutant.path
    text = path.read_text(encoding="utf-8")
    module = importlib.import_module(dotted(copy, path))
    new, tree = mutant.applied(text), ast.parse(text)
    around = [n for n in ast.walk(tree) if holds(n, mutant.line, mutant.column)]
    functions = [n for n in around if isinstance(n, FUNCTIONS)]
    if functions:
        inside = any(holds(n, mutant.line, mutant.column) for n in functions[-1].body)
        if not inside or any(is_compiled(f) for f in functions):
            return False
        code = {_place(c): c for c in _codes(compile(new, str(path), "exec"))}
        lines = {(start_of(f), f.name) for f in functions}
        found = [
            f
            for f in gc.get_objects()
            if isinstance(f, FunctionType)
            and f.__code__.co_filename == str(path)
            and _place(f.__code__) in lines
        ]
        for function in found:
            function.__code__ = code[_place(function.__code__)]
        return bool(found)
    top = next((n for n in ast.parse(new).body if holds(n, mutant.line, mutant.column)), None)
    return isinstance(top, (ast.Assign, ast.AnnAssign)) and _rebound(module, top)


def _codes(code: CodeType) -> list[CodeType]:
    inner = [c for c in code.co_consts if isinstance(c, CodeType)]
    return [code, *(c for one in inner for c in _codes(one))]


def _place(code: CodeType) -> tuple[int, str]:
    return code.co_firstlineno, code.co_name


def _rebound(module: Any, statement: ast.stmt) -> bool:
    """A constant with its new value, in every module that knows the old one."""
    space = dict(vars(module))
    before = dict(space)
    exec(compile(ast.Module([statement], []), "<changed>", "exec"), space)  # noqa: S102  our own text
    names = [n for n in space if n in before and space[n] is not before[n]]
    for name in names:
        for other in list(sys.modules.values()):
            if getattr(other, "__name__", "").split(".")[0] == PACKAGE:
                for known, value in list(vars(other).items()):
                    if value is before[name]:
                        setattr(other, known, space[name])
    return bool(names)
