"""Settings travel with the tables they made: only the engine reads what site.toml says."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "geoprofile"
# the engine that chooses the settings of a layer; the snapshot itself; settings of no table, such
# as the title block of figures and report, and the units that people read
ALLOWED = ("engine", "site.py", "app", "handover", "store", "document.py", "people.py")
NAMES = ("site", "snapshot", "before", "after")
FILES = sorted(
    p
    for p in PACKAGE.rglob("*.py")
    if p.relative_to(PACKAGE).parts[0] not in ALLOWED and p.name not in ALLOWED
)


def readings_of_settings(tree: ast.AST) -> list[str]:
    """Where a file reads settings from a site: `x.settings_of`, `site.settings`, `site.used`."""
    return [
        f"line {node.lineno}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and (
            node.attr == "settings_of"
            or (
                node.attr in ("settings", "used")
                and isinstance(node.value, ast.Name)
                and node.value.id in NAMES
            )
        )
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_only_the_engine_reads_settings_from_the_site(path: Path) -> None:
    """Layers, figures and words take `engine.settings_used`: what the table was made with."""
    found = readings_of_settings(ast.parse(path.read_text(encoding="utf-8")))
    assert not found, f"{path.name}: {', '.join(found)}: use geoprofile.engine.settings_used"


@pytest.mark.parametrize(
    "text",
    ["site.settings_of('flow')", "site.settings['flow']", "w = site.settings_of", "site.used"],
)
def test_the_rule_sees_what_it_forbids(text: str) -> None:
    """Each way round the engine is found."""
    assert readings_of_settings(ast.parse(text))


def test_the_rule_lets_a_plugin_name_its_settings() -> None:
    """Declared settings and the mapping that a layer is given are no site."""
    assert not readings_of_settings(ast.parse("plugin.settings; settings['days']"))
