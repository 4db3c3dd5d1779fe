"""The labels of a style as QML: what is written, how, and where there is room for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from geoprofile.drawing.styles.colours import FONT, INK, PAPER, rgba
from geoprofile.drawing.styles.model import Style

# placement 0 sets a label over the middle of an area, 1 beside a point, 2 along a line, 4 level in
# an area, 6 around a point where there is room; quadrant 2 is above and to the right, 4 over the
# point, 5 to the right, 8 below and to the right
FOUR_SIDES = "TR,BR,TL,BL,R,L,TSR,BSR"
PLACEMENTS: Mapping[str, Mapping[str, str]] = {
    "marker": {"placement": "1", "quadOffset": "2", "xOffset": "2", "yOffset": "-1.5"},
    "top": {"placement": "1", "quadOffset": "2", "xOffset": "0.8", "yOffset": "-0.8"},
    "middle": {"placement": "1", "quadOffset": "5", "xOffset": "2", "yOffset": "0"},
    "below": {"placement": "1", "quadOffset": "8", "xOffset": "2", "yOffset": "1.5"},
    "around": {"placement": "6", "predefinedPositionOrder": FOUR_SIDES, "dist": "2.6"},
    "end": {"placement": "1", "quadOffset": "4"},
    "beside": {"placement": "4", "polygonPlacementFlags": "3", "dist": "1"},
    "edge": {"placement": "2", "placementFlags": "14", "dist": "1"},
    "line": {"placement": "2", "placementFlags": "10"},
    "fill": {"placement": "0"},
}
POINTS_AT = {"top": "start_point($geometry)", "middle": "centroid($geometry)"}
BEYOND_MM = 3.0  # a letter stands so far beyond the end of its line
ROOM_MM = 3.5  # around a point, into which no label of another layer goes


@dataclass(frozen=True)
class Writing:
    """How a label is written: its size, its weight, and how it stands against others."""

    points: float = 8.0
    bold: bool = False
    italic: bool = False
    priority: int = 5
    always: bool = False  # drawn where it overlaps, too: a hole without its name is of no use


WRITINGS = {
    "around": Writing(8.5, bold=True, priority=10, always=True),
    "ends": Writing(10, bold=True, priority=8, always=True),
    "beside": Writing(7.5, italic=True, priority=3),
    "edge": Writing(7.5, italic=True, priority=2),
}


def add_labels(root: Element, style: Style) -> None:
    """Add the labels of a style, if it has any."""
    if not style.label:
        return
    text, place = _text(style), style.label_at or str(style.shape)
    if place == "ends":  # of a section: A and A'
        rules = _rules(root)
        for end, mark in (("start", ""), ("end", " || ''''")):
            settings = _settings(_rule(rules, end, ""), f'"{style.label}"{mark}', "end", "ends")
            _on_point(settings, _beyond(end))
        _settings(_rule(rules, "line", ""), f'"{style.label}"', "line", "line", is_drawn=False)
        return
    if place == "around":
        rules = _rules(root)
        _settings(_rule(rules, "name", ""), text, place, place)
        room = _settings(_rule(rules, "room", ""), text, "fill", "fill", is_drawn=False)
        circle = f"buffer($geometry, @map_scale * {ROOM_MM / 1000:g})"
        _generated(room, circle, "PolygonGeometry")
        return
    if style.label_along is None:
        settings = _settings(SubElement(root, "labeling", type="simple"), text, place, place)
        if place in POINTS_AT:
            _on_point(settings, POINTS_AT[place])
        return
    column, word = style.label_along
    rules = _rules(root)
    _settings(_rule(rules, "area", f"\"{column}\" IS NOT '{word}'"), text, place, place)
    edge = _settings(_rule(rules, "edge", f"\"{column}\" = '{word}'"), text, "edge", "edge")
    _generated(edge, "boundary($geometry)", "LineGeometry")


def _rules(root: Element) -> Element:
    labels = SubElement(root, "labeling", type="rule-based")
    return SubElement(labels, "rules", key="{labels}")


def _rule(rules: Element, name: str, condition: str) -> Element:
    rule = SubElement(rules, "rule", key=f"{{labels-{name}}}", description=name)
    if condition:
        rule.set("filter", condition)
    return rule


def _settings(
    parent: Element, text: str, place: str, written: str, *, is_drawn: bool = True
) -> Element:
    """The settings of one kind of label; one that is not drawn keeps other labels away."""
    writing = WRITINGS.get(written, Writing())
    settings = SubElement(parent, "settings")
    words = SubElement(
        settings,
        "text-style",
        fieldName=text,
        isExpression=str(int(any(c in text for c in "'\"("))),
        fontFamily=FONT,
        namedStyle=_style_name(writing),
        fontSize=f"{writing.points:g}",
        fontSizeUnit="Point",
        fontWeight="75" if writing.bold else "50",
        fontItalic=str(int(writing.italic)),
        textColor=rgba(INK),
        textOpacity="1",
    )
    SubElement(
        words,
        "text-buffer",
        bufferDraw="1",
        bufferSize="0.7",
        bufferSizeUnits="MM",
        bufferColor=rgba(PAPER),
        bufferOpacity="0.85",
        bufferNoFill="1",
        bufferJoinStyle="128",
    )
    placement = SubElement(
        settings, "placement", {**PLACEMENTS[place], "offsetUnits": "MM", "distUnits": "MM"}
    )
    placement.set("priority", str(writing.priority))
    SubElement(
        settings,
        "rendering",
        drawLabels=str(int(is_drawn)),
        obstacle=str(int(not is_drawn)),
        obstacleFactor="1",
        displayAll=str(int(writing.always)),
    )
    return settings


def _style_name(writing: Writing) -> str:
    """What the font calls it."""
    return (
        " ".join(
            name for name, is_on in (("Bold", writing.bold), ("Italic", writing.italic)) if is_on
        )
        or "Regular"
    )


def _on_point(settings: Element, expression: str) -> None:
    _generated(settings, expression, "PointGeometry")


def _generated(settings: Element, expression: str, kind: str) -> None:
    placement = settings.find("placement")
    if placement is not None:
        placement.set("geometryGenerator", expression)
        placement.set("geometryGeneratorEnabled", "1")
        placement.set("geometryGeneratorType", kind)


def _beyond(end: str) -> str:
    """The point beyond an end of a line, on its prolongation, as far at every scale."""
    length = f"@map_scale * {BEYOND_MM / 1000:g}"
    lengths = f"{length}, 0" if end == "start" else f"0, {length}"
    return f"{end}_point(extend($geometry, {lengths}))"


def _text(style: Style) -> str:
    if style.label_before:
        return f"'{style.label_before}' || \"{style.label}\""
    if style.label_decimals is None:
        return style.label
    return f'format_number("{style.label}", {style.label_decimals})'
