"""Three wings: mathematics knows no table, products know no file, plumbing knows no product."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "geoprofile"
MATHEMATICS = {"hydraulics", "packers", "geometry", "kriging"}
CONTRACT = {
    "errors",
    "budget",
    "compiling",
    "kept_while",
    "threads",
    "remembered",
    "whole",
    "workers",
    "units",
    "places",
    "site",
    "plugins",
    "engine",
    "schema",
}
DRAWING = {"drawing"}
PLUMBING = {
    "intake",
    "store",
    "formats",
    "fieldcopy",
    "gisplugin",
    "gisproject",
    "report",
    "handover",
    "portfolio",
    "app",
    "cli",
    "reference",
    "testing",
}
PROOF = {"validation"}  # sees every room, as tests do
KRIGING = ("covariance", "solve", "predict", "fit", "design")  # each imports those before it
# what still names a product: the files that draw and plan, to be asked of the products themselves
NOT_YET = {
    ("app", "products.conductivity.temperature"),
    ("app.figures", "products.figures"),
    ("app.figures", "products.section.lines"),
    ("app.figures", "products.section.sections"),
    ("app.figures", "products.conductivity.inputs"),
    ("app.figures", "products.advice.figure"),
    ("app.figures", "products.concentration.inputs"),
    ("app.planning", "products.packer_plan.advised"),
    ("app.planning", "products.packer_plan.blanks"),
    ("app.figures_discharge", "products.discharge.figure"),
    ("app.planning", "products.packer_plan.compute"),
    ("app.planning", "products.packer_plan.figure"),
    ("app.planning", "products.packer_plan.plan"),
    ("formats.geotiff", "products.maps.shown"),
    ("formats.geotiff", "products.maps.grids"),
    ("formats.geotiff", "products.maps.mapping"),
}


def name_of(path: Path) -> str:
    """A module without `geoprofile.`; a package by its own name."""
    name = ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    return "" if name == "__init__" else name.removesuffix(".__init__")


MODULES = {name_of(p): p for p in sorted(PACKAGE.rglob("*.py")) if p.name != "__main__.py"}


def imports(path: Path) -> set[str]:
    """Every module of the package that a file imports, inside functions too, but for types."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for_types = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    found: set[str] = set()
    for node in ast.walk(tree):
        if id(node) in for_types:
            continue
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("geoprofile"):
            room = str(node.module).removeprefix("geoprofile").lstrip(".")
            for alias in node.names:
                inner = f"{room}.{alias.name}".lstrip(".")
                found.add(inner if inner in MODULES else room)
        elif isinstance(node, ast.Import):
            names = [a.name.removeprefix("geoprofile.") for a in node.names]
            found |= {n for n in names if n in MODULES}
    return found - {""}


IMPORTS = {name: imports(path) for name, path in MODULES.items() if name}


def may(own: str, other: str) -> bool:
    """Whether the wing of a module may import that of another."""
    mine, theirs = own.split(".")[0], other.split(".")[0]
    if mine in MATHEMATICS:
        # a method is a plugin, and the analysis takes them
        allowed = MATHEMATICS | {"errors", "budget", "compiling", "threads"}
        return theirs in allowed or (mine, theirs) == ("hydraulics", "plugins")
    if mine in PROOF:
        return True
    if theirs in PROOF:  # commands run it; the report names its topics and the figures kept
        return mine in {"app", "report"} or (mine, other) == ("cli", "validation.topics")
    if mine in CONTRACT:
        return theirs in CONTRACT
    if mine in DRAWING:
        return theirs in CONTRACT | DRAWING
    if mine == "products":
        return theirs in MATHEMATICS | CONTRACT | DRAWING | {"products"}
    return theirs != "products" or (own, other) in NOT_YET


@pytest.mark.parametrize("name", IMPORTS)
def test_a_module_imports_only_what_its_wing_may(name: str) -> None:
    """Mathematics takes mathematics; products take it, the contract and drawing; no file of the
    plumbing names a product.
    """
    assert name.split(".")[0] in MATHEMATICS | CONTRACT | DRAWING | PLUMBING | PROOF | {
        "products"
    }, name
    wrong = sorted(other for other in IMPORTS[name] if not may(name, other))
    assert not wrong, f"{name} imports {', '.join(wrong)}"


def test_every_exception_is_still_needed() -> None:
    """An exception that nobody uses goes."""
    assert {(a, b) for a, b in NOT_YET if b not in IMPORTS[a]} == set()


@pytest.mark.parametrize("name", [n for n in IMPORTS if n.startswith("kriging.")])
def test_arrows_of_kriging_point_one_way(name: str) -> None:
    """Covariance, solve, predict, fit, design: each imports only those before it."""
    own = KRIGING.index(name.split(".")[1])
    for other in IMPORTS[name]:
        if other.startswith("kriging."):
            assert KRIGING.index(other.split(".")[1]) <= own, f"{name} imports {other}"


def test_no_circle_of_imports() -> None:
    """None at all, those inside rooms and inside functions included."""
    done: set[str] = set()

    def follow(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, f"a circle: {' -> '.join((*way[way.index(name) :], name))}"
        if name in done:
            return
        for other in sorted(IMPORTS.get(name, ())):
            follow(other, (*way, name))
        done.add(name)

    for name in IMPORTS:
        follow(name, ())


def test_only_drawing_and_figures_import_matplotlib() -> None:
    """Figures are drawn in `drawing`, and in the figure files of the products."""
    for name, path in MODULES.items():
        if "matplotlib" in path.read_text(encoding="utf-8"):
            is_figure = name.startswith("products.") and ".figure" in name
            assert is_figure or name.startswith("drawing."), name


def test_only_intake_and_store_touch_fiona_and_sql() -> None:
    """The disk formats are behind two rooms; the proof opens a site file as any other program."""
    for name, path in MODULES.items():
        text = path.read_text(encoding="utf-8")
        if "import fiona" in text or "import sqlite3" in text:
            assert name.split(".")[0] in ("intake", "store", "formats", *PROOF), name
