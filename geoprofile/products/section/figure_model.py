"""The field of a section figure: bands, fade, criterion and surfaces, cut to where it is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from geoprofile.drawing import marks, theme
from geoprofile.drawing.fade import draw_fade
from geoprofile.drawing.map_frame import shape_patch
from geoprofile.products.section.figure_legend import (
    BASE_LINE,
    CONTACT_LINE,
    EDGE_LINES,
    GROUND_LOOK,
    SUPPORT_LINE,
    WATER_LOOK,
)
from geoprofile.products.section.figure_numbers import Drawing
from geoprofile.products.section.slices import Slice

if TYPE_CHECKING:
    from shapely import MultiPolygon

Array: TypeAlias = NDArray[np.float64]


def draw_field(axes: Axes, drawing: Drawing, colours: list[str]) -> None:
    """Bands, fade, limit of support and criterion, all cut to the domain."""
    cut, width = drawing.slice, drawing.bandwidth
    if cut is None:
        return
    clip = _clip_path(axes, cut.shown)
    values = width.scaled(cut.median)
    inner = list(width.scaled(np.array(width.levels)))
    levels = [
        min(float(values.min()), inner[0]) - 1,
        *inner,
        max(float(values.max()), inner[-1]) + 1,
    ]
    shown = [axes.contourf(cut.s, cut.z, values, levels=levels, colors=colours, zorder=1)]
    image = draw_fade(axes, cut.s, cut.z, cut.log10_sd)
    shown.append(_lines(axes, cut, cut.log10_sd, [drawing.uncertain_sd], SUPPORT_LINE))
    if cut.probability is not None:
        for probability, style in EDGE_LINES.items():
            shown.append(_lines(axes, cut, cut.probability, [probability], style))
    assumed = cut.of_assumed_shape()
    if not assumed.is_empty:
        axes.add_patch(shape_patch(assumed, zorder=2.2, **theme.ASSUMED))
    for artist in (*shown, image):
        if artist is not None:
            artist.set_clip_path(clip)


def _lines(axes: Axes, cut: Slice, values: Array, levels: list[float], style: Any) -> Any:
    """Contour lines of the levels that occur; None where none does."""
    inside = [v for v in levels if values.min() < v < values.max()]
    if not inside:
        return None
    return axes.contour(
        cut.s,
        cut.z,
        values,
        levels=inside,
        colors=[style["color"]],
        linestyles=[style["linestyle"]],
        linewidths=[style["linewidth"]],
        zorder=3,
    )


def _clip_path(axes: Axes, domain: MultiPolygon) -> PathPatch:
    """The domain as an invisible patch that other artists are cut to."""
    parts = [np.asarray(ring.coords) for p in domain.geoms for ring in (p.exterior, *p.interiors)]
    outline = Outline.make_compound_path(*(Outline(part, closed=True) for part in parts))
    patch = PathPatch(outline, facecolor="none", edgecolor="none")
    axes.add_patch(patch)
    return patch


def draw_surfaces(axes: Axes, drawing: Drawing) -> None:
    """Ground, bottoms of holes, tops of units and water level."""
    section = drawing.section
    axes.plot(*section.ground.T, zorder=4, **GROUND_LOOK)
    axes.plot(*section.base.T, zorder=4, **BASE_LINE)
    for contact in drawing.contacts:
        axes.plot(*contact.line.T, zorder=3.4, **marks.TOP_OF_UNIT.under.figure)
        axes.plot(*contact.line.T, zorder=3.5, **CONTACT_LINE)
    if section.water is None:
        return
    axes.plot(*section.water.T, zorder=3.9, **marks.WATER_LEVEL.under.figure)
    axes.plot(*section.water.T, zorder=4, **WATER_LOOK)
    s, z = section.water[len(section.water) // 40]
    axes.plot(
        [s],
        [z],
        marker="v",
        markersize=6,
        markerfacecolor=theme.PAPER,
        markeredgecolor=theme.WATER,
        zorder=5,
        markeredgewidth=1.0,
    )
