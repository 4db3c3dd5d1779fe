"""How each layer of the site file is drawn: input tables here, the others as products say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from geoprofile.drawing.marks import AREAS, SECTION
from geoprofile.drawing.styles.classes import Look, Row, Words, grouped
from geoprofile.drawing.styles.colours import INK, PAPER, QUIET
from geoprofile.drawing.styles.entries import defaults_of, entries_of
from geoprofile.drawing.styles.model import Rule, Shape, Style, Symbol
from geoprofile.drawing.styles.shared import WordSymbols, area_symbol, line_symbol
from geoprofile.drawing.symbols import (
    AREA_ORDER,
    shown_unit,
)
from geoprofile.schema import TABLES, Column
from geoprofile.schema.soil_gas import SOIL_GAS

AREA_SYMBOLS: WordSymbols = {kind: (kind, area_symbol(look)) for kind, look in AREAS.items()}


OWN: Mapping[str, Look] = {
    "borehole": Look(Symbol("marker", PAPER, INK, 0.5, 2.6), label="borehole", label_at="around"),
    "area": Look(
        Symbol("fill", outline=INK),
        Words("kind", AREA_SYMBOLS),
        label="name",
        label_at="beside",
        label_along=("kind", "site"),  # the edge of the site is as large as the map
        upwards=("kind", AREA_ORDER),
    ),
    "section_line": Look(line_symbol(SECTION), label="name", label_at="ends"),
}
PLAIN: Mapping[Shape, Symbol] = {
    "marker": Symbol("marker", QUIET, INK, 0.2, 2.4),
    "line": Symbol("line", INK, width_mm=0.4),
    "fill": Symbol("fill", outline=QUIET, width_mm=0.3),
}
# a point drawn in the GIS brings its own coordinates into the columns
DEFAULTS = {"borehole": {"x": "$x", "y": "$y"}}


@cache
def looks() -> Mapping[str, Look]:
    """How each table with shapes is drawn, those of installed products included.

    A table of a product that offers no look is drawn plainly, by the shape that it has.
    """
    from geoprofile.plugins.registry import offered_by_all

    found = dict(OWN)
    for more in offered_by_all("looks"):
        found |= more
    for table in TABLES.values():
        if table.geometry and table.name not in found:
            found[table.name] = Look(PLAIN[_shape(table.geometry)])
    return found


def _shape(geometry: str) -> Shape:
    """How a type of geometry is drawn."""
    if "Polygon" in geometry:
        return "fill"
    return "line" if "LineString" in geometry else "marker"


def needed_columns(table: str) -> tuple[str, ...]:
    """Columns of the rows that `style_of` asks for; none where the style is always the same."""
    look = looks().get(table)
    if look is None:
        return ()
    wanted = {*look.groups, *(look.classes.columns if look.classes else ())}
    return tuple(c.name for c in TABLES[table].columns if c.name in wanted)


def style_of(table: str, rows: Sequence[Row] = ()) -> Style:
    """The style of a table for the rows it holds, which need only `needed_columns`."""
    known = TABLES[table]
    aliases = {c.name: alias(c) for c in known.columns}
    look = looks().get(table)
    if look is None or known.geometry is None:
        return Style(
            table, None, aliases=aliases, defaults=defaults_of(known), entries=entries_of(known)
        )
    rules = _rules(table, look, rows) or (Rule(known.title, symbol=look.symbol),)
    return Style(
        table,
        look.symbol.shape,
        rules,
        look.label,
        look.label_at,
        look.label_decimals,
        look.label_before,
        look.label_along,
        look.upwards,
        aliases,
        {**defaults_of(known), **DEFAULTS.get(table, {})},
        (known.geometry or "").endswith("Z"),
        entries_of(known),
    )


def alias(column: Column) -> str:
    """A column's name in words with its unit: `depth [m]`, or `depth to water [m]`."""
    words = column.name
    for suffix in _suffixes(column.unit):
        words = words.removesuffix(suffix)
    words = words.replace("_", " ")
    if column.kind == "datetime":
        return f"{words} [UTC]"
    return f"{words} [{shown_unit(column.unit)}]" if column.unit not in ("", "1") else words


def _suffixes(unit: str) -> tuple[str, ...]:
    plain = unit.lower().replace("/", "_per_").replace("1_per_", "per_")
    return f"_{plain}", f"_{plain.replace('_per_', '_')}", f"_{plain.removeprefix('deg')}"


def _rules(table: str, look: Look, rows: Sequence[Row]) -> tuple[Rule, ...]:
    classes = look.classes
    if classes is None:
        return ()

    def divide(members: Sequence[Row]) -> tuple[Rule, ...]:
        return classes.rules(members, look.symbol)

    if not look.groups:
        return divide(rows)
    return grouped(rows, look.groups, _title, divide)


def _title(row: Row) -> str:
    """What a group is, in the legend: `TCE, 2031-05, median, -12 m`."""
    names = ("quantity", "analyte", "round_before", "round", "statistic")
    parts = [_word(row.get(c)) + _medium(row, c) for c in names]
    parts.append(_place(row))
    return ", ".join(p for p in parts if p)


def _medium(row: Row, column: str) -> str:
    """What a substance was found in, where that is not water."""
    return f" in {SOIL_GAS}" if column == "analyte" and row.get("medium") == SOIL_GAS else ""


def _place(row: Row) -> str:
    """Where a map lies: `-12 m`, `5 m below ground`, `unit sand`, or the surface by name."""
    if row.get("elevation_m") is not None:
        return f"{row['elevation_m']:g} m"
    if row.get("depth_m") is not None:
        return f"{row['depth_m']:g} m below ground"
    return " ".join(p for p in (_word(row.get("surface")), _word(row.get("hydro_unit"))) if p)


def _word(value: Any) -> str:
    return "" if value is None else str(value)
