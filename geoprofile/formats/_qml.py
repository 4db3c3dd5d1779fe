"""A style beside a raster that opens it in one band with colours, not as a false-colour picture.

Source: the style XML of a free desktop GIS as its documentation shows it; kept to what it takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import quoteattr

# dark to light on one hue, so that a grey print keeps the order
RAMP = ("#0b2a3a", "#17506a", "#2f7f93", "#63aeb0", "#a9d6c5", "#eef5dc")


def raster_style(levels: Sequence[float], unit: str, *, band: int = 1) -> str:
    """The style of one band between rising levels."""
    items = "".join(
        f'<item value="{value!r}" color="{_colour(i, len(levels))}" alpha="255" '
        f"label={quoteattr(f'{value:.3g} {unit}'.strip())}/>"
        for i, value in enumerate(levels)
    )
    low, high = levels[0], levels[-1]
    return (
        '<!DOCTYPE qgis PUBLIC "http://mrcc.com/qgis.dtd" "SYSTEM">\n'
        '<qgis styleCategories="AllStyleCategories"><pipe>'
        f'<rasterrenderer type="singlebandpseudocolor" band="{band}" opacity="1" '
        f'classificationMin="{low!r}" classificationMax="{high!r}"><rastershader>'
        f'<colorrampshader colorRampType="INTERPOLATED" classificationMode="1" clip="0" '
        f'minimumValue="{low!r}" maximumValue="{high!r}">{items}</colorrampshader>'
        "</rastershader></rasterrenderer></pipe></qgis>\n"
    )


def _colour(place: int, count: int) -> str:
    """The colour of a level: from the ramp, evenly."""
    return RAMP[round(place * (len(RAMP) - 1) / max(count - 1, 1))]
