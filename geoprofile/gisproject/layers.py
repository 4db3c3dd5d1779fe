"""What the project shows: one layer per theme, and which of them are on when it is opened."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from xml.etree.ElementTree import Element, ParseError, fromstring

from geoprofile.drawing.styles import element, looks, style_of
from geoprofile.drawing.styles.model import Condition, Rule, Style, layer_id
from geoprofile.gisproject.order import (
    ALWAYS_SHOWN,
    MAPS,
    SHEETS,
    group_of,
    is_by_theme,
    place_of,
    underneath,
)
from geoprofile.schema import Table
from geoprofile.store.projects import Contents, Held

SUBSTANCE = ("quantity", "analyte")
PLACE = ("surface", "hydro_unit", "depth_m", "elevation_m")
MEDIAN = "median"
WATER = "water"


@dataclass(frozen=True, eq=False)
class MapLayer:
    """One entry of the legend: a table, or the part of it that is one theme."""

    key: str
    title: str
    table: Table
    groups: tuple[str, ...]
    style: Element
    theme: Mapping[str, Any]
    subset: str = ""
    shown: bool = False


@dataclass(frozen=True)
class Default:
    """The theme on which every map opens: one substance, round and level for all of them.

    `place` holds the columns that say where a map lies: its elevation, depth, surface or unit.
    """

    substance: str | None
    round: str | None
    place: Mapping[str, Any]

    def fits(self, table: str, theme: Mapping[str, Any], substance: Any, statistic: str) -> bool:
        """Whether a theme is that of a substance and a statistic at this place and round."""
        if not is_by_theme(table):
            return False
        named = [theme[c] for c in SUBSTANCE if c in theme]
        here = all(theme[c] == v for c, v in self.place.items() if c in theme)
        return (
            named[:1] == [substance]
            and theme.get("statistic", statistic) == statistic
            and theme.get("round") in (None, self.round)
            and theme.get("medium") in (None, WATER)
            and here
        )


def layers_of(contents: Contents) -> tuple[MapLayer, ...]:
    """Every layer and table of the project, in the order of the work."""
    default = default_of(contents)
    found: list[MapLayer] = []
    for held in sorted(contents.tables, key=lambda h: place_of(h.table.name)):
        if held.table.owner == "input" or held.count:
            found += _layers(held, default)
    return tuple(found)


def default_of(contents: Contents) -> Default:
    """The first substance that is mapped, its last round, and the middle of its levels."""
    held = contents.held("map_band")
    rows = [r for r in held.values if r.get("statistic") == MEDIAN] if held else []
    substances = [r for r in rows if r.get("round") is not None] or rows
    if not substances:
        return Default(None, None, {})
    substance = str(substances[0]["quantity"])
    mine = [r for r in rows if r["quantity"] == substance]
    rounds = sorted({str(r["round"]) for r in mine if r.get("round") is not None})
    levels = [r for r in mine if r.get("elevation_m") is not None]
    levels.sort(key=lambda r: float(str(r["elevation_m"])))
    heights = list(dict.fromkeys(r["elevation_m"] for r in levels))
    middle = heights[len(heights) // 2] if heights else None
    chosen = next((r for r in levels if r["elevation_m"] == middle), mine[0])
    place = {c: chosen.get(c) for c in PLACE}
    return Default(substance, rounds[-1] if rounds else None, place)


def _layers(held: Held, default: Default) -> Iterable[MapLayer]:
    table = held.table
    style = style_of(table.name, held.values)
    look = looks().get(table.name)
    if look is None or not look.groups or table.geometry is None:
        yield MapLayer(
            layer_id(table.name),
            table.title,
            table,
            (group_of(table.name),),
            _drawn(held, style),
            {},
            shown=table.name in ALWAYS_SHOWN,
        )
        return
    for rule in style.rules:
        theme = {c.column: c.value for c in rule.conditions}
        parts = rule.parts or (Rule(rule.title, symbol=rule.symbol or look.symbol),)
        subset = sql_of(rule.conditions)
        yield MapLayer(
            layer_id(table.name, hashlib.sha256(subset.encode()).hexdigest()[:10]),
            f"{table.title}: {rule.title}" if rule.title else table.title,
            table,
            _groups(table.name, theme),
            _drawn(held, replace(style, rules=parts)),
            theme,
            subset,
            default.fits(table.name, theme, default.substance, MEDIAN),
        )


def _groups(table: str, theme: Mapping[str, Any]) -> tuple[str, ...]:
    """A group of its own for each quantity of the maps."""
    named = [str(theme[c]) for c in SUBSTANCE if theme.get(c) is not None]
    return (group_of(table), *named[:1]) if group_of(table) == MAPS else (group_of(table),)


def _drawn(held: Held, style: Style) -> Element:
    """The style of the project: the user's own where one was saved as the default."""
    if held.own_style and "<!ENTITY" not in held.own_style:
        try:
            return fromstring(held.own_style)  # noqa: S314 - a style without entities
        except ParseError:
            pass
    return element(style)


def sql_of(conditions: Sequence[Condition]) -> str:
    """Conditions as a filter of the database."""
    return " AND ".join(_compared(c) for c in conditions)


def _compared(condition: Condition) -> str:
    name = '"' + condition.column.replace('"', '""') + '"'
    if condition.value is None:
        return f"{name} IS NULL"
    if isinstance(condition.value, str):
        text = condition.value.replace("'", "''")
        return f"{name} {condition.sign} '{text}'"
    return f"{name} {condition.sign} {float(condition.value)!r}"


def drawing_order(layers: Sequence[MapLayer]) -> list[MapLayer]:
    """Layers with shapes from the top down: points and lines above, filled maps below."""
    drawn = [m for m in layers if m.table.geometry]
    depth = {table: number for number, table in enumerate(underneath(), start=1)}
    return sorted(drawn, key=lambda m: depth.get(m.table.name, 0))


def themes_of(layers: Sequence[MapLayer], default: Default) -> dict[str, list[str]]:
    """Named sets of layers to be seen together: each quantity at the default level, and others."""
    always = [m.key for m in layers if m.table.name in ALWAYS_SHOWN]
    themes: dict[str, list[str]] = {}
    for layer in layers:
        substance, statistic = layer.theme.get("quantity"), str(layer.theme.get("statistic"))
        if layer.table.name == "map_band" and default.fits(
            "map_band", layer.theme, substance, statistic
        ):
            beside = [
                m.key
                for m in layers
                if default.fits(m.table.name, m.theme, substance, statistic)
                or (substance == "K" and m.table.name == "interval_conductivity")
            ]
            themes[f"{substance}, {statistic}"] = [*always, *beside]
    for name, tables in OTHERS.items():
        if keys := [m.key for m in layers if m.table.name in tables]:
            themes[name] = [*always, *keys]
    for sheet in SHEETS:
        if keys := [m.key for m in layers if m.groups[0] == sheet and _is_median(m, default)]:
            themes[sheet] = keys
    return themes


def _is_median(layer: MapLayer, default: Default) -> bool:
    """Whether a layer of the section sheet is that of the default substance, or of none."""
    named = [layer.theme[c] for c in SUBSTANCE if c in layer.theme]
    return (
        named in ([], [default.substance])
        and layer.theme.get("statistic", MEDIAN) == MEDIAN
        and layer.theme.get("round") in (None, default.round)
    )


OTHERS: Mapping[str, tuple[str, ...]] = {
    "Heads and flow": ("head_contour", "flow"),
    "Soil gas": ("soil_gas", "soil_gas_band", "soil_gas_blank"),
    "What next": ("next_test", "next_borehole"),
}
