"""Public functions of computing rooms say shapes, units and what comes out."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "geoprofile"
COMPUTING = ("hydraulics", "packers", "geometry", "kriging", "products")
UNIT = "["
# what they take and give is the same for all: `plugins` says it once, `PLUGIN` what differs
HOOKS = ("applies", "run", "example", "compute")


def public_functions() -> list[tuple[str, ast.FunctionDef]]:
    """Every public function and method of public classes in computing rooms."""
    found = []
    for room in COMPUTING:
        for path in sorted((PACKAGE / room).rglob("*.py")):
            text = path.read_text(encoding="utf-8")
            is_plugin = "PLUGIN = " in text
            if room == "products" and not is_plugin:
                continue
            for node in ast.parse(text).body:
                if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                    if is_plugin and node.name in HOOKS:
                        continue
                    found.append((f"{path.parent.name}/{path.name}:{node.name}", node))
    return found


FUNCTIONS = public_functions()


@pytest.mark.parametrize("function", [f for _, f in FUNCTIONS], ids=[n for n, _ in FUNCTIONS])
def test_docstring_is_complete(function: ast.FunctionDef) -> None:
    """Parameters and Returns stand there where there are any; arrays have shapes and units."""
    text = ast.get_docstring(function) or ""
    assert text, function.name
    arguments = [a.arg for a in (*function.args.args, *function.args.kwonlyargs)]
    if arguments:
        assert "Parameters\n---" in text, f"{function.name}: Parameters"
        for name in arguments:
            assert name in text, f"{function.name}: {name} is not described"
    gives_nothing = isinstance(function.returns, ast.Constant) and function.returns.value is None
    if function.returns is not None and not gives_nothing:
        assert "Returns\n---" in text or "Yields\n---" in text, f"{function.name}: Returns"
    for line in text.splitlines():
        if " : Array" in line:
            assert "shape" in line, f"{function.name}: '{line.strip()}' needs a shape"
            assert UNIT in line, f"{function.name}: '{line.strip()}' needs a unit"
