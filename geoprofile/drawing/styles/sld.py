"""A style as SLD 1.1 for other software (OGC 05-078r4 and 05-077r4, from memory).

SLD cannot leave rules unticked: of a layer of many maps it has only the one that is shown first.
"""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from geoprofile.drawing.marks import UNDER_MM
from geoprofile.drawing.styles.colours import INK, PAPER
from geoprofile.drawing.styles.model import Condition, Rule, Style, Symbol
from geoprofile.drawing.symbols import DASHES, Line

SPACES = {
    "xmlns": "http://www.opengis.net/sld",
    "xmlns:se": "http://www.opengis.net/se",
    "xmlns:ogc": "http://www.opengis.net/ogc",
    "xmlns:xlink": "http://www.w3.org/1999/xlink",
}
SIGNS = {
    "=": "ogc:PropertyIsEqualTo",
    "<": "ogc:PropertyIsLessThan",
    ">=": "ogc:PropertyIsGreaterThanOrEqualTo",
}
FORMS = {"diamond": "square", "star": "star"}
MILLIMETRE = 1 / 0.28  # pixels; SLD takes a pixel of 0.28 mm


def sld(style: Style) -> str:
    """The SLD text of a style; "" for a table without shapes."""
    if style.shape is None:
        return ""
    root = Element("StyledLayerDescriptor", {"version": "1.1.0", **SPACES})
    layer = SubElement(root, "NamedLayer")
    SubElement(layer, "se:Name").text = style.table
    user = SubElement(layer, "UserStyle")
    SubElement(user, "se:Name").text = style.table
    features = SubElement(user, "se:FeatureTypeStyle")
    for place, (title, conditions, symbol) in enumerate(_upwards(style)):
        if place and style.upwards is not None:  # each is drawn wholly over the one before
            features = SubElement(user, "se:FeatureTypeStyle")
        _add_rule(features, title, conditions, symbol)
    if style.label:
        rule = SubElement(features, "se:Rule")
        SubElement(rule, "se:Name").text = "labels"
        _add_label(rule, style.label, style.label_before)
    indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode")


Leaf = tuple[str, tuple[Condition, ...], Symbol]


def _upwards(style: Style) -> list[Leaf]:
    """The rules that are shown, the topmost last."""
    found = leaves(style.rules)
    if style.upwards is None:
        return found
    column, words = style.upwards
    place = {Condition(column, "=", word): number for number, word in enumerate(words)}
    return sorted(found, key=lambda leaf: max((place.get(c, -1) for c in leaf[1]), default=-1))


def leaves(rules: tuple[Rule, ...], above: tuple[Condition, ...] = ()) -> list[Leaf]:
    """The rules that are shown and draw something, with every condition on the way to them."""
    found: list[Leaf] = []
    for rule in rules:
        if not rule.shown:
            continue
        conditions = (*above, *rule.conditions)
        if rule.symbol is not None:
            found.append((rule.title, conditions, rule.symbol))
        found += leaves(rule.parts, conditions)
    return found


def _add_rule(
    parent: Element, title: str, conditions: tuple[Condition, ...], symbol: Symbol
) -> None:
    rule = SubElement(parent, "se:Rule")
    SubElement(rule, "se:Name").text = title
    SubElement(SubElement(rule, "se:Description"), "se:Title").text = title
    if conditions:
        _add_filter(rule, conditions)
    if symbol.depth_rings:
        _add_marker(rule, symbol)  # on a line, a marker stands at its middle
        _add_stroke_line(rule, symbol.colour or INK, 0.4, symbol.dash)
    elif symbol.shape == "marker":
        _add_marker(rule, symbol)
    elif symbol.shape == "line":
        if symbol.outline:
            _add_stroke_line(rule, symbol.outline, symbol.width_mm + UNDER_MM, "solid")
        _add_stroke_line(rule, symbol.colour, symbol.width_mm, symbol.dash)
    else:
        _add_polygon(rule, symbol)


def _add_filter(rule: Element, conditions: tuple[Condition, ...]) -> None:
    place = SubElement(rule, "ogc:Filter")
    if len(conditions) > 1:
        place = SubElement(place, "ogc:And")
    for condition in conditions:
        if condition.value is None:
            test = SubElement(place, "ogc:PropertyIsNull")
            SubElement(test, "ogc:PropertyName").text = condition.column
            continue
        test = SubElement(place, SIGNS[condition.sign])
        SubElement(test, "ogc:PropertyName").text = condition.column
        value = condition.value
        text = value if isinstance(value, str) else f"{float(value):.15g}"
        SubElement(test, "ogc:Literal").text = text


def _parameters(parent: Element, values: Mapping[str, str]) -> None:
    for name, value in values.items():
        SubElement(parent, "se:SvgParameter", name=name).text = value


def _stroke(parent: Element, colour: str, width_mm: float, dash: str) -> None:
    values = {"stroke": colour, "stroke-width": f"{width_mm * MILLIMETRE:.2f}"}
    if DASHES[dash]:
        pattern = Line(width_mm, DASHES[dash]).dashes_mm
        values["stroke-dasharray"] = " ".join(f"{d * MILLIMETRE:.2f}" for d in pattern)
    _parameters(SubElement(parent, "se:Stroke"), values)


def _fill(parent: Element, symbol: Symbol) -> None:
    if symbol.colour:
        opacity = 0.3 if symbol.hatch else symbol.opacity
        values = {"fill": symbol.colour, "fill-opacity": f"{opacity:g}"}
        _parameters(SubElement(parent, "se:Fill"), values)


def _add_marker(rule: Element, symbol: Symbol) -> None:
    graphic = SubElement(SubElement(rule, "se:PointSymbolizer"), "se:Graphic")
    mark = SubElement(graphic, "se:Mark")
    SubElement(mark, "se:WellKnownName").text = FORMS.get(symbol.form, symbol.form)
    _fill(mark, symbol)
    if symbol.outline:
        _stroke(mark, symbol.outline, symbol.width_mm, "solid")
    SubElement(graphic, "se:Size").text = f"{symbol.size_mm * MILLIMETRE:.1f}"
    if symbol.form == "diamond":
        SubElement(graphic, "se:Rotation").text = "45"


def _add_stroke_line(rule: Element, colour: str, width_mm: float, dash: str) -> None:
    _stroke(SubElement(rule, "se:LineSymbolizer"), colour, width_mm, dash)


def _add_polygon(rule: Element, symbol: Symbol) -> None:
    polygon = SubElement(rule, "se:PolygonSymbolizer")
    _fill(polygon, symbol)
    if symbol.outline:
        _stroke(polygon, symbol.outline, symbol.width_mm, symbol.dash)


def _add_label(rule: Element, column: str, before: str) -> None:
    text = SubElement(rule, "se:TextSymbolizer")
    label = SubElement(text, "se:Label")
    label.text = before or None
    SubElement(label, "ogc:PropertyName").text = column
    _parameters(SubElement(text, "se:Font"), {"font-size": "11"})
    halo = SubElement(text, "se:Halo")
    SubElement(halo, "se:Radius").text = "2"
    _parameters(SubElement(halo, "se:Fill"), {"fill": PAPER})
    _parameters(SubElement(text, "se:Fill"), {"fill": INK})
