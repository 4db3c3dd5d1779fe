"""What a name means: table, column, method, layer or format, with units, equations and sources."""

from __future__ import annotations

import difflib
import inspect
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from geoprofile.errors import UsageError
from geoprofile.plugins import Format, Layer, Method, Setting
from geoprofile.plugins.registry import plugins
from geoprofile.schema import TABLES, Column, Table

WIDTH = 96
OWNERS = {
    "input": "yours: loaded from files, or edited in the GIS",
    "derived": "computed; rebuilt as a whole",
    "system": "bookkeeping",
}
SHOWN_SECTIONS = ("Notes", "References")


def explain(topic: str) -> str:
    """What a name means.

    Parameters
    ----------
    topic : str
        A table, a column, table.column, or the name of a method, layer or format.

    Returns
    -------
    str
        Lines of at most 96 characters; every meaning where a name has several.

    Raises
    ------
    UsageError
        Nothing of that name, with the nearest names.
    """
    name = topic.strip()
    found = [*_columns(name), *_tables(name), *_plugins(name)]
    if found:
        return "\n\n".join(found)
    near = difflib.get_close_matches(name, list(topics()), n=3)
    hint = f" Did you mean {', '.join(near)}?" if near else ""
    raise UsageError(
        "explain",
        f"'{topic}'",
        "a table, table.column, method, layer or format",
        f"See `geoprofile plugins` and the column names of `geoprofile templates`.{hint}",
    )


def topics() -> Iterator[str]:
    """Every name that can be explained."""
    for table in TABLES.values():
        yield table.name
        for column in table.columns:
            yield f"{table.name}.{column.name}"
    for family in ("methods", "layers", "formats"):
        yield from plugins(family)


def _columns(name: str) -> Iterator[str]:
    """table.column, or every column of that name."""
    owner, dot, column = name.partition(".")
    for table in TABLES.values():
        wanted = column if dot else name
        if dot and table.name != owner:
            continue
        for one in table.columns:
            if one.name == wanted:
                yield _column(table, one)


def _column(table: Table, column: Column) -> str:
    lines = [f"{table.name}.{column.name}", _wrapped(f"{column.meaning}.")]
    lines.append(f"  unit: {unit_of(table, column)}")
    lines.append(f"  type: {column.kind}{', required' if column.required else ', may be empty'}")
    rule = limits(column)
    if rule:
        lines.append(_wrapped(f"allowed: {rule}"))
    if column.default is not None:
        lines.append(f"  empty means: {column.default}")
    if column.references:
        lines.append(f"  names a row of: {column.references}")
    lines.append(_wrapped(f"table: {table.title}; {OWNERS[table.owner]}{_maker(table)}"))
    return "\n".join(lines)


def unit_of(table: Table, column: Column) -> str:
    """The unit of a column in words.

    Parameters
    ----------
    table, column : Table and Column
        Of the schema.

    Returns
    -------
    str
        A symbol, "pure number", "none", or where the unit stands.
    """
    if column.unit == "1":
        return "pure number"
    beside = [c.name for c in table.columns if c.name in ("unit", "gain_unit")]
    if not column.unit and column.kind == "real" and beside:
        return f"as column {beside[0]} says"
    return column.unit or "none"


def limits(column: Column) -> str:
    """What a column may hold, in words; "" for no rule.

    Parameters
    ----------
    column : Column
        Of the schema.

    Returns
    -------
    str
        For example "above 0, 5000 or less".
    """
    if column.allowed:
        return ", ".join(column.allowed)
    parts = []
    if column.above is not None:
        parts.append(f"above {column.above:g}")
    if column.low is not None:
        parts.append(f"{column.low:g} or more")
    if column.high is not None:
        parts.append(f"{column.high:g} or less")
    return ", ".join(parts)


def _maker(table: Table) -> str:
    """The layers that write the table."""
    if table.owner != "derived":
        return ""
    layers: Mapping[str, Layer] = plugins("layers")
    makers = [x.name for x in layers.values() if table.name in x.writes]
    return f" by layer {', '.join(makers)}" if makers else ""


def _tables(name: str) -> Iterator[str]:
    if name in TABLES:
        table = TABLES[name]
        yield "\n".join(
            [
                f"table {table.name}: {table.title}",
                _wrapped(f"{table.description}."),
                _wrapped(f"{OWNERS[table.owner]}{_maker(table)}"),
                f"  shape: {table.geometry or 'none'}{_plane(table)}",
                *(_line(table, c) for c in table.columns),
            ]
        )


def _plane(table: Table) -> str:
    return ", on the section sheet" if table.plane == "section" else ""


def _line(table: Table, column: Column) -> str:
    unit = unit_of(table, column)
    shown = "" if unit == "none" else f" [{unit}]"
    return textwrap.fill(
        f"    {column.name}{shown}: {column.meaning}", WIDTH, subsequent_indent="      "
    )


def _plugins(name: str) -> Iterator[str]:
    for family, describe in (("methods", _method), ("layers", _layer), ("formats", _format)):
        found = plugins(family).get(name)
        if found is not None:
            yield describe(found)


def _method(method: Method) -> str:
    lines = [
        f"method {method.name}: {method.title}",
        f"  for: {', '.join(method.kinds)}",
        _wrapped(f"equation: {_first_line(method.run)}"),
        _wrapped(f"source: {method.source}"),
        *_about(method.run),
        *_sections(method.run),
        *_settings(method.settings),
    ]
    return "\n".join(lines)


def _layer(layer: Layer) -> str:
    return "\n".join(
        [
            f"layer {layer.name}: {layer.summary}",
            _wrapped(f"reads: {', '.join(layer.reads)}"),
            _wrapped(f"writes: {', '.join(layer.writes)}"),
            *_sections(layer.compute),
            *_settings(layer.settings),
        ]
    )


def _format(one: Format) -> str:
    needs = f"  needs the optional part '{one.needs}' of the program" if one.needs else ""
    lines = [f"format {one.name}: {one.summary}", needs, *_settings(one.settings)]
    return "\n".join(line for line in lines if line)


def _settings(settings: tuple[Setting, ...]) -> Iterator[str]:
    for one in settings:
        unit = f" {one.unit}" if one.unit not in ("", "1") else ""
        yield _wrapped(f"setting {one.name} = {one.default!r}{unit}: {one.meaning}")


def _about(function: Any) -> Iterator[str]:
    """What the file of a plugin says of itself: equation and assumptions."""
    module = inspect.getmodule(function)
    for paragraph in (inspect.getdoc(module) or "").split("\n\n"):
        if paragraph.strip():
            yield textwrap.indent(paragraph.rstrip(), "  ")


def _first_line(function: Any) -> str:
    """The first line of what a function says of itself: for a method, its equation."""
    return (inspect.getdoc(function) or "").partition("\n")[0]


def _sections(function: Any) -> Iterator[str]:
    """The equation, its assumptions and its references, as the function's own words say them."""
    lines = (inspect.getdoc(function) or "").splitlines()
    shown = False
    for place, line in enumerate(lines):
        following = lines[place + 1] if place + 1 < len(lines) else ""
        if following.startswith("---"):
            shown = line in SHOWN_SECTIONS
            if shown:
                yield f"  {line}:"
        elif shown and not line.startswith("---"):
            yield f"    {line}".rstrip()


def _wrapped(text: str) -> str:
    return textwrap.fill(f"  {text}", WIDTH, subsequent_indent="    ")
