"""Data flows one way: a room imports only from the rooms before it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "geoprofile"
ROOMS = (
    "errors",
    "units",
    "schema",
    "site",
    "records",
    "plugins",
    "registry",
    "hydraulics",
    "methods",
    "packers",
    "paths",
    "geostat",
    "bridges",
    "maps",
    "layers",
    "fieldplan",
    "views",
    "figures",
    "styles",
    "intake",
    "store",
    "formats",
    "steps",
    "workflow",
    "report",
    "handover",
    "testing",
    "cli",
)
# the one look upwards: the snapshot offers its fitted fields
ALLOWED = {("site", "bridges")}


def room(module: str) -> str:
    """The room of a module such as `geoprofile.kriging.fit`."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "cli"


def imports(path: Path) -> set[str]:
    """Every geoprofile module that a file imports outside `if TYPE_CHECKING`."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("geoprofile"):
            if node.module == "geoprofile":
                found |= {f"geoprofile.{a.name}" for a in node.names if a.name != "__version__"}
            else:
                found.add(str(node.module))
        elif isinstance(node, ast.Import):
            found |= {a.name for a in node.names if a.name.startswith("geoprofile")}
    return found


FILES = sorted(p for p in PACKAGE.rglob("*.py") if p.name not in ("__init__.py", "__main__.py"))


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_only_rooms_before_it(path: Path) -> None:
    """No file imports from a room that comes after its own."""
    own = room("geoprofile." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts))
    assert own in ROOMS, f"{path.name} belongs to no room: add it to ROOMS"
    for module in imports(path):
        other = room(module)
        if (own, other) in ALLOWED:
            continue
        assert ROOMS.index(other) <= ROOMS.index(own), f"{path.name} imports {module}"


def test_only_figures_imports_matplotlib() -> None:
    """Figures are drawn in one room."""
    for path in FILES:
        if "matplotlib" in path.read_text(encoding="utf-8"):
            assert path.relative_to(PACKAGE).parts[0] == "figures", path


def test_only_intake_and_store_touch_fiona_and_sql() -> None:
    """The disk formats are behind two rooms."""
    for path in FILES:
        text = path.read_text(encoding="utf-8")
        if "import fiona" in text or "import sqlite3" in text:
            assert path.relative_to(PACKAGE).parts[0] in ("intake", "store", "formats"), path
