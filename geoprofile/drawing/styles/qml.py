"""A style as QML, the form that QGIS applies by itself when a layer is opened."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from geoprofile.drawing.marks import UNDER_MM
from geoprofile.drawing.styles._form import add_form
from geoprofile.drawing.styles._labels import add_labels
from geoprofile.drawing.styles.colours import rgba
from geoprofile.drawing.styles.model import Condition, Rule, Style, Symbol
from geoprofile.drawing.symbols import DASHES, Line

DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
FORMS = {"cross": "cross_fill"}
# asked of the feature, not by the column's name: on a page made for a feature of another table,
# a legend takes the column that has the same place in that one
DEEP = "attribute($currentfeature, 'bottom_m')"
RING_SIZE = f'{{least}} + 7 * coalesce({DEEP} / nullif(maximum("bottom_m"), 0), 0)'
EXPRESSION = "3"  # the number by which QGIS knows that a property is an expression


def qml(style: Style) -> str:
    """The QML text of a style."""
    root = element(style)
    indent(root, " ")
    return DOCTYPE + tostring(root, encoding="unicode")


def element(style: Style) -> Element:
    """The QML of a style as a tree."""
    root = Element("qgis", version="3.22.0", labelsEnabled="1" if style.label else "0")
    root.set("styleCategories", "Symbology|Labeling|Fields|Forms")
    if style.shape is not None:
        _add_renderer(root, style)
        add_labels(root, style)
    if style.has_z:  # else a profile view adds the terrain to elevations that are absolute already
        SubElement(root, "elevation", clamping="Absolute", binding="Vertex", extrusionEnabled="0")
    aliases = SubElement(root, "aliases")
    for column, text in style.aliases.items():
        SubElement(aliases, "alias", field=column, name=text, index="-1")
    defaults = SubElement(root, "defaults")
    for column, expression in style.defaults.items():
        SubElement(defaults, "default", field=column, expression=expression, applyOnUpdate="0")
    add_form(root, style.entries)
    return root


def expression(conditions: tuple[Condition, ...]) -> str:
    """Conditions as a QGIS expression."""
    return " AND ".join(_compared(c) for c in conditions)


def _compared(condition: Condition) -> str:
    name = '"' + condition.column.replace('"', '""') + '"'
    value = condition.value
    if value is None:
        return f"{name} IS NULL"
    if isinstance(value, str):
        text = value.replace("\\", "\\\\").replace("'", "''")
        return f"{name} {condition.sign} '{text}'"
    return f"{name} {condition.sign} {float(value):.15g}"


def symbols_of(rules: tuple[Rule, ...]) -> Iterator[Symbol]:
    """Every symbol of rules and their parts, in order."""
    for rule in rules:
        if rule.symbol is not None:
            yield rule.symbol
        yield from symbols_of(rule.parts)


def _add_renderer(root: Element, style: Style) -> None:
    renderer = SubElement(root, "renderer-v2", type="RuleRenderer", symbollevels="0")
    drawn = list(symbols_of(style.rules))  # one per rule: QGIS takes each away once it is used
    rings = any(s.depth_rings for s in drawn)
    order_by = _order_by(style, rings=rings)
    renderer.set("enableorderby", "1" if order_by is not None else "0")
    rules = SubElement(renderer, "rules", key="{rules}")
    _add_rules(rules, style.rules, itertools.count(), "rule")
    symbols = SubElement(renderer, "symbols")
    for number, symbol in enumerate(drawn):
        _add_symbol(symbols, symbol, str(number))
    if order_by is not None:
        text, rising = order_by
        clause = SubElement(SubElement(renderer, "orderby"), "orderByClause", nullsFirst="0")
        clause.set("asc", rising)
        clause.text = text


def _order_by(style: Style, *, rings: bool) -> tuple[str, str] | None:
    """By what features are drawn one after the other, and "1" where it rises."""
    if style.upwards is not None:
        column, words = style.upwards
        cases = " ".join(
            f"WHEN {_compared(Condition(column, '=', word))} THEN {place}"
            for place, word in enumerate(words)
        )
        return f"CASE {cases} ELSE -1 END", "1"
    return ('"bottom_m"', "0") if rings else None  # wide rings lie below narrow ones


def _add_rules(parent: Element, rules: tuple[Rule, ...], numbers: Iterator[int], stem: str) -> None:
    for place, rule in enumerate(rules):
        key = f"{stem}-{place}"
        element = SubElement(parent, "rule", key=f"{{{key}}}", label=rule.title)
        if rule.conditions:
            element.set("filter", expression(rule.conditions))
        if rule.symbol is not None:
            element.set("symbol", str(next(numbers)))
        if not rule.shown:
            element.set("checkstate", "0")
        _add_rules(element, rule.parts, numbers, key)


def _add_symbol(parent: Element, symbol: Symbol, name: str) -> None:
    element = SubElement(
        parent,
        "symbol",
        type=symbol.shape,
        name=name,
        alpha=f"{symbol.opacity:g}",
        clip_to_extent="1",
        force_rhr="0",
    )
    if symbol.depth_rings:
        _add_rings(element, symbol, name)
    elif symbol.shape == "marker":
        _add_layer(element, "SimpleMarker", _marker(symbol))
    elif symbol.shape == "line":
        _add_line(element, symbol, name)
    else:
        _add_fill(element, symbol, name)


def _add_layer(parent: Element, kind: str, properties: Mapping[str, str]) -> Element:
    attributes = {"class": kind, "pass": "0", "enabled": "1", "locked": "0"}
    layer = SubElement(parent, "layer", attributes)
    for key, value in properties.items():
        SubElement(layer, "prop", k=key, v=value)
    return layer


def _marker(symbol: Symbol) -> dict[str, str]:
    return {
        "name": FORMS.get(symbol.form, symbol.form),
        "color": rgba(symbol.colour),
        "outline_color": rgba(symbol.outline),
        "outline_style": "solid" if symbol.outline else "no",
        "outline_width": f"{symbol.width_mm:g}",
        "outline_width_unit": "MM",
        "size": f"{symbol.size_mm:g}",
        "size_unit": "MM",
    }


def _add_line(element: Element, symbol: Symbol, name: str) -> None:
    if symbol.arrow:
        layer = _add_layer(
            element,
            "ArrowLine",
            {
                "arrow_width": f"{symbol.width_mm:g}",
                "arrow_start_width": f"{symbol.width_mm:g}",
                "head_length": "3",
                "head_thickness": "2",
                "is_curved": "0",
                "is_repeated": "0",
            },
        )
        inner = Symbol("fill", symbol.colour, symbol.outline)
        _add_symbol(layer, inner, f"@{name}@0")
        return
    if symbol.outline:  # the edge is a wider line below
        _add_layer(
            element, "SimpleLine", _line(symbol.outline, symbol.width_mm + UNDER_MM, "solid")
        )
    _add_layer(element, "SimpleLine", _line(symbol.colour, symbol.width_mm, symbol.dash))


def _line(colour: str, width_mm: float, dash: str) -> dict[str, str]:
    pattern = ";".join(f"{d:g}" for d in Line(width_mm, DASHES[dash]).dashes_mm)
    return {
        "line_color": rgba(colour),
        "line_style": "solid",
        "use_custom_dash": "1" if pattern else "0",
        "customdash": pattern or "5;2",
        "customdash_unit": "MM",
        "line_width": f"{width_mm:g}",
        "line_width_unit": "MM",
        "capstyle": "flat",
        "joinstyle": "round",
    }


def _add_fill(element: Element, symbol: Symbol, name: str) -> None:
    turns = () if not symbol.hatch else (0.0, 90.0) if symbol.crossed else (0.0,)
    for place, turn in enumerate(turns):
        layer = _add_layer(
            element,
            "LinePatternFill",
            {
                "angle": f"{symbol.hatch_deg + turn:g}",
                "distance": "2.5",
                "distance_unit": "MM",
                "line_width": "0.26",
            },
        )
        _add_symbol(layer, Symbol("line", symbol.colour, width_mm=0.3), f"@{name}@{place}")
    _add_layer(
        element,
        "SimpleFill",
        {
            "color": rgba(symbol.colour),
            "style": "solid" if symbol.colour and not symbol.hatch else "no",
            "outline_color": rgba(symbol.outline),
            "outline_style": "solid" if symbol.outline and symbol.dash == "solid" else "no",
            "outline_width": f"{symbol.width_mm:g}",
            "outline_width_unit": "MM",
            "joinstyle": "round",
        },
    )
    if symbol.outline and symbol.dash != "solid":  # the edge of a fill knows no dashes of our own
        _add_layer(element, "SimpleLine", _line(symbol.outline, symbol.width_mm, symbol.dash))


def _add_rings(element: Element, symbol: Symbol, name: str) -> None:
    """A marker at the top of the line: on a map, the line of a vertical hole is only a dot."""
    layer = _add_layer(
        element,
        "GeometryGenerator",
        {
            "SymbolType": "Marker",
            "geometryModifier": "start_point($geometry)",
            "units": "MapUnit",
        },
    )
    inner = SubElement(layer, "symbol", type="marker", name=f"@{name}@0", alpha="1")
    marker = _add_layer(inner, "SimpleMarker", _marker(symbol))
    size = RING_SIZE.format(least=f"{symbol.size_mm:g}")
    properties = SubElement(SubElement(marker, "data_defined_properties"), "Option", type="Map")
    SubElement(properties, "Option", name="name", value="", type="QString")
    listed = SubElement(properties, "Option", name="properties", type="Map")
    entry = SubElement(listed, "Option", name="size", type="Map")
    SubElement(entry, "Option", name="active", value="true", type="bool")
    SubElement(entry, "Option", name="expression", value=size, type="QString")
    SubElement(entry, "Option", name="type", value=EXPRESSION, type="int")
    SubElement(properties, "Option", name="type", value="collection", type="QString")
