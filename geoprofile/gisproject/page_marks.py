"""Marks and writing on a page: the grid of its map, a ring, the north arrow, fonts and colours."""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement

from geoprofile.drawing.styles.colours import FONT, INK, QUIET, rgba
from geoprofile.drawing.symbols import STOP

ARROW = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 60">'
    f'<path d="M20 2 L34 46 L20 37 L6 46 Z" fill="none" stroke="{INK}" stroke-width="2"/>'
    f'<path d="M20 2 L20 37 L6 46 Z" fill="{INK}"/>'
    f'<text x="20" y="59" font-size="13" text-anchor="middle" fill="{INK}">N</text></svg>'
)
CROSSES, OUTSIDE, ALONG, SHOWN, HIDDEN = "1", "1", "1", "0", "3"


def add_grid(map_item: Element, identity: str, step: float) -> None:
    """Crosses at round coordinates, which stand along the left and lower edge of the map."""
    grid = SubElement(
        map_item,
        "ComposerMapGrid",
        name="Coordinates",
        uuid=identity,
        show="1",
        position="3",
        unit="0",
        intervalX=f"{step:g}",
        intervalY=f"{step:g}",
        offsetX="0",
        offsetY="0",
        gridStyle=CROSSES,
        crossLength="1.5",
        gridFrameStyle="2",  # ticks inside the frame
        gridFrameWidth="1.5",
        gridFramePenThickness="0.2",
        gridFramePenColor=rgba(INK),
        gridFrameSideFlags="15",
        gridFrameMargin="0",
        showAnnotation="1",
        annotationFormat="0",
        annotationPrecision="0",
        annotationExpression="",
        frameAnnotationDistance="1",
        leftAnnotationPosition=OUTSIDE,
        leftAnnotationDirection=ALONG,
        leftAnnotationDisplay=SHOWN,
        bottomAnnotationPosition=OUTSIDE,
        bottomAnnotationDirection="0",
        bottomAnnotationDisplay=SHOWN,
        rightAnnotationDisplay=HIDDEN,
        topAnnotationDisplay=HIDDEN,
    )
    line = SubElement(SubElement(grid, "lineStyle"), "symbol", type="line", name="", alpha="1")
    layer = SubElement(
        line, "layer", {"class": "SimpleLine", "pass": "0", "enabled": "1", "locked": "0"}
    )
    for key, value in {"line_color": rgba(QUIET), "line_width": "0.15"}.items():
        SubElement(layer, "prop", k=key, v=value)
    SubElement(
        grid,
        "text-style",
        fontFamily=FONT,
        fontSize="6",
        fontSizeUnit="Point",
        textColor=rgba(INK),
        textOpacity="1",
    )


def add_ring(shape_item: Element) -> None:
    """An empty circle, drawn over the map."""
    shape_item.set("shapeType", "0")
    symbol = SubElement(shape_item, "symbol", type="fill", name="", alpha="1")
    layer = SubElement(
        symbol, "layer", {"class": "SimpleFill", "pass": "0", "enabled": "1", "locked": "0"}
    )
    for key, value in {
        "style": "no",
        "outline_color": rgba(STOP),
        "outline_width": "0.6",
        "outline_style": "solid",
    }.items():
        SubElement(layer, "prop", k=key, v=value)


def add_column(
    parent: Element, attribute: str, heading: str, width: float, *, rank: int = 0
) -> None:
    """A column of a table, or what its rows are sorted by."""
    column = SubElement(
        parent, "column", attribute=attribute, heading=heading, width=f"{width:g}",
        hAlignment="1", vAlignment="128", sortOrder="0", sortByRank=str(rank),
    )  # fmt: skip
    SubElement(column, "backgroundColor", red="0", green="0", blue="0", alpha="0")


def add_colour(parent: Element, name: str, colour: str) -> None:
    """A colour in parts."""
    red, green, blue, alpha = rgba(colour).split(",")
    SubElement(parent, name, red=red, green=green, blue=blue, alpha=alpha)


def font(points: float, *, bold: bool = False) -> str:
    """A font as the GIS describes it."""
    return f"{FONT},{points:g},-1,5,{75 if bold else 50},0,0,0,0,0"


def add_text(parent: Element, points: float, *, bold: bool = False) -> None:
    """A way of writing."""
    SubElement(
        parent, "text-style", fontFamily=FONT, fontSize=f"{points:g}", fontSizeUnit="Point",
        fontWeight="75" if bold else "50", textColor=rgba(INK), textOpacity="1",
    )  # fmt: skip
