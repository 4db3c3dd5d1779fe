"""How the tables of the user are filled in by hand: a form for each, from the schema."""

from __future__ import annotations

from geoprofile.drawing.styles.model import Entry, Parent, Widget
from geoprofile.schema import TABLES, Column, Table
from geoprofile.schema.wording import explain

NUMBER_OF_ROW = "fid"
LONG = ("remarks", "description", "what", "basis")
FILES = (("attachment", "path"),)
ALWAYS = "true"  # the mark beside a cell shows its help only where there is a rule
WIDGETS: dict[str, Widget] = {"date": "day", "datetime": "time", "boolean": "yes or no"}


def entries_of(table: Table) -> tuple[Entry, ...]:
    """The form of a table of the user; empty for others, which are not edited."""
    if table.owner != "input":
        return ()
    number = Entry(NUMBER_OF_ROW, "hidden")
    return (number, *(_entry(table, column) for column in table.columns))


def defaults_of(table: Table) -> dict[str, str]:
    """QGIS expressions for the cells of a new row that the schema fills when they are empty."""
    if table.owner != "input":
        return {}
    return {c.name: _constant(c.default) for c in table.columns if c.default is not None}


def _entry(table: Table, column: Column) -> Entry:
    parent = _parent(table, column)
    return Entry(
        column.name,
        "pick" if parent else _widget(table, column),
        column.allowed,
        parent,
        column.required,
        table.key == (column.name,),
        _rule(column) or ALWAYS,
        _help(table, column),
    )


def _widget(table: Table, column: Column) -> Widget:
    if column.allowed:
        return "words"
    if (table.name, column.name) in FILES:
        return "file"
    if column.name in LONG:
        return "long text"
    return WIDGETS.get(column.kind, "text")


def _parent(table: Table, column: Column) -> Parent | None:
    """The table whose key the column holds, unless it is this table's own name of its rows."""
    if column.references is None or column.references == table.name:
        return None
    other = TABLES[column.references]
    mine = {c.name: c.references for c in table.columns}
    shared = [
        c.name
        for c in other.columns
        if c.references and c.references != table.name and mine.get(c.name) == c.references
    ]
    return Parent(other.name, other.key[0], shared[0] if shared else "")


def _rule(column: Column) -> str:
    """What the table's own rule asks of a number, as a QGIS expression."""
    name = f'"{column.name}"'
    limits = ((">=", column.low), (">", column.above), ("<=", column.high))
    rule = " AND ".join(f"{name} {sign} {limit!r}" for sign, limit in limits if limit is not None)
    return rule if column.required or not rule else f"{name} IS NULL OR ({rule})"


def _help(table: Table, column: Column) -> str:
    text = explain(column)
    if column.kind == "datetime":
        text += "; in UTC, with the offset at which it was written beside it"
    if column.key and len(table.key) > 1:
        text += f"; no two rows have the same {', '.join(table.key)}"
    return text


def _constant(value: str | float) -> str:
    return f"{value:g}" if not isinstance(value, str) else "'" + value.replace("'", "''") + "'"
