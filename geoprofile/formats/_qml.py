"""A style beside a raster that opens it in one band, in the classes and colours of the map.

Source: the style XML of a free desktop GIS as its documentation shows it; kept to what it takes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

from geoprofile.drawing.symbols import class_colours, class_words

if TYPE_CHECKING:
    from geoprofile.drawing.levels import Bandwidth

LARGEST = 1e30  # stands for the open end of the last class


def raster_classes(scale: Bandwidth, quantity: str) -> list[tuple[float, str, str]]:
    """Upper end [unit], colour and words of every class, from low to high."""
    ends = [-math.inf, *scale.levels, math.inf]
    colours = class_colours(quantity, scale.statistic, scale.count)
    found = list(zip(ends[:-1], ends[1:], colours, strict=True))
    if not scale.logarithmic:  # nothing lies beyond the ends of a probability or a spread
        found = found[1:-1] if scale.unit == "1" else found[1:]
    return [(high, colour, class_words(low, high, scale.unit)) for low, high, colour in found]


def raster_style(scale: Bandwidth, quantity: str, *, band: int = 1) -> str:
    """The style of one band: every class in one colour, as in the map of bands."""
    classes = raster_classes(scale, quantity)
    return _document([(min(high, LARGEST), colour, text) for high, colour, text in classes], band)


def _document(classes: Sequence[tuple[float, str, str]], band: int) -> str:
    items = "".join(
        f'<item value="{high!r}" color="{colour}" alpha="255" label={quoteattr(text)}/>'
        for high, colour, text in classes
    )
    low, high = 0.0, classes[-1][0]
    return (
        '<!DOCTYPE qgis PUBLIC "http://mrcc.com/qgis.dtd" "SYSTEM">\n'
        '<qgis styleCategories="AllStyleCategories"><pipe>'
        f'<rasterrenderer type="singlebandpseudocolor" band="{band}" opacity="1" '
        f'classificationMin="{low!r}" classificationMax="{high!r}"><rastershader>'
        f'<colorrampshader colorRampType="DISCRETE" classificationMode="1" clip="0" '
        f'minimumValue="{low!r}" maximumValue="{high!r}">{items}</colorrampshader>'
        "</rastershader></rasterrenderer></pipe></qgis>\n"
    )
