"""The reference of tables, commands and plugins, written from the schema, the helps and the
plugins.

`python -m geoprofile.reference` writes it anew; a test fails when it is stale.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from geoprofile.schema import TABLES, Column, Table

FOLDER = Path(__file__).parent
WIDTH = 96
NOTE = "<!-- Written by `python -m geoprofile.reference` from the schema, helps and plugins. -->"
TITLES = {
    "input": "Input tables: yours, loaded from files or edited in the GIS",
    "derived": "Derived tables: computed, rebuilt as a whole",
    "system": "System tables: bookkeeping",
}


def pages() -> dict[str, str]:
    """The pages by the name of their file."""
    return {"tables.md": tables(), "commands.md": commands(), "plugins.md": plugins()}


def write() -> tuple[Path, ...]:
    """Write the pages that changed."""
    changed = []
    for name, text in pages().items():
        place = FOLDER / name
        if not place.exists() or place.read_text(encoding="utf-8") != text:
            place.write_text(text, encoding="utf-8")
            changed.append(place)
    return tuple(changed)


def tables() -> str:
    """Every table and column with unit, meaning and what it may hold."""
    lines = ["# Tables", "", NOTE, ""]
    for owner, title in TITLES.items():
        lines += [f"## {title}", ""]
        for table in TABLES.values():
            if table.owner == owner:
                lines += [*_table(table), ""]
    return "\n".join(lines)


def _table(table: Table) -> Iterator[str]:
    shape = f" Shape: {table.geometry}." if table.geometry else ""
    sheet = " On the section sheet." if table.plane == "section" else ""
    yield f"### {table.name}: {table.title}"
    yield ""
    yield f"{table.description}.{shape}{sheet}"
    yield ""
    yield "| column | unit | meaning | may hold |"
    yield "|---|---|---|---|"
    for column in table.columns:
        yield _row(table, column)


def _row(table: Table, column: Column) -> str:
    from geoprofile.reference.explain import limits, unit_of

    name = f"**{column.name}**" if column.key else column.name
    marks = [limits(column) or column.kind]
    if column.references:
        marks.append(f"a row of {column.references}")
    if column.required:
        marks.append("required")
    cells = (name, unit_of(table, column), column.meaning, "; ".join(marks))
    return "| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |"


def commands() -> str:
    """The help of every command."""
    import click

    from geoprofile.cli import cli

    lines = ["# Commands", "", NOTE, ""]
    context = click.Context(cli, info_name="geoprofile")
    for name in cli.list_commands(context):
        command = cli.get_command(context, name)
        if command is None:
            continue
        inner = click.Context(
            command, info_name=f"geoprofile {name}", terminal_width=WIDTH, max_content_width=WIDTH
        )
        lines += [f"## {name}", "", "```text", command.get_help(inner), "```", ""]
    return "\n".join(lines)


def plugins() -> str:
    """Methods, layers and formats with their settings and sources."""
    from geoprofile.plugins import FAMILIES, registry
    from geoprofile.reference.explain import explain

    lines = ["# Methods, layers and formats", "", NOTE, ""]
    for family in FAMILIES:
        lines += [f"## {family.capitalize()}", ""]
        for name, plugin in registry.plugins(family).items():
            word = family.removesuffix("s")
            parts = explain(name).split("\n\n")
            body = next(p for p in parts if p.startswith(f"{word} {plugin.name}:"))
            lines += ["```text", body, "```", ""]
    return "\n".join(lines)
