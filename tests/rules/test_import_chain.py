"""How many modules stand behind each other: whoever reads from a command down reads few floors."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "geoprofile"
MOST = 16  # modules in a row: lower it when the longest gets shorter


def _name(path: Path) -> str:
    name = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    return name.removesuffix(".__init__")


MODULES = {_name(p): p for p in sorted(PACKAGE.rglob("*.py")) if p.name != "__main__.py"}


@cache
def imported(name: str) -> tuple[str, ...]:
    """Modules of the package that a module imports when it is loaded, but not its root."""
    found = set()
    for node in ast.parse(MODULES[name].read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("geoprofile"):
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                found.add(inner if inner in MODULES else str(node.module))
    return tuple(sorted(found & MODULES.keys() - {"geoprofile"}))


@cache
def longest(name: str) -> tuple[str, ...]:
    """The longest row of modules that begins with one; a circle would never end."""
    return max(((name, *longest(other)) for other in imported(name)), key=len, default=(name,))


def test_no_row_of_imports_is_longer_than_the_bound() -> None:
    """At module level, imports for types alone left out."""
    row = max((longest(name) for name in MODULES), key=len)
    assert len(row) > 10  # the rule reads something
    assert len(row) <= MOST, " -> ".join(row)
