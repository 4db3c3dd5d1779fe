"""Files are written through one door: whole, on the disk, and never through a link."""

from __future__ import annotations

import ast
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "geoprofile"
WRITING = {"write_text", "write_bytes", "copyfile", "copy2", "copytree", "savefig", "rename"}
# rooms and files whose callers give them a private folder or file, which then takes its place
GIVEN_A_PLACE = (
    "formats/",
    "handover/",
    "gisplugin/template/",  # runs in the GIS, without the package
    "intake/plain_paths.py",  # a copy with a plain name in a temporary folder
    "kriging/predict/executors.py",  # what workers share, in a temporary folder
    "products/packer_plan/figure_set_up.py",  # into a text in memory
    "reference/__init__.py",  # pages of the sources, made anew by the makers
    "validation/cases/",  # sites of their own in a temporary folder
    "testing/",  # another hand is to write as it likes
    "store/",  # a site file is changed in place within a transaction; copies have their own checks
)


def writes(tree: ast.AST) -> set[str]:
    """Names of the calls in a module that write a file."""
    found = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        name = node.func.attr
        modes = [a.value for a in node.args if isinstance(a, ast.Constant)]
        if name in WRITING and not (name == "rename" and node.keywords):
            found.add(name)
        if name == "open" and any(isinstance(m, str) and m[:1] in "wax" for m in modes):
            found.add(name)
    return found


def test_whoever_writes_a_file_goes_through_the_door() -> None:
    """A module that writes takes its place from `whole`, or is given a private one."""
    amiss, through = [], 0
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        if name == "whole.py" or name.startswith(GIVEN_A_PLACE) or not writes(tree):
            continue
        doors = [
            node
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module == "geoprofile.whole"
        ]
        through += bool(doors)
        if not doors:
            amiss.append((name, writes(tree)))
    assert amiss == []
    assert through > 5
