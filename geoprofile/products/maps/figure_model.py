"""A field on a site map: bands, blanks, fade and edges."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from geoprofile.drawing import marks, theme
from geoprofile.drawing.bars import band_index
from geoprofile.drawing.edges import edge_lines
from geoprofile.drawing.fade import draw_fade
from geoprofile.drawing.legend import Entry
from geoprofile.drawing.levels import SHOWN_UNITS, tidy
from geoprofile.drawing.map_frame import shape_patch
from geoprofile.drawing.symbols import PROBABILITY_LINES, exceedance_words
from geoprofile.errors import DataError
from geoprofile.products.maps.figure_numbers import MapDrawing
from geoprofile.products.section.figure_legend import SUPPORT_LINE, support_words

OUTER: dict[str, Any] = marks.OUTER.figure
LEGEND_WIDTH = 28  # [-] letters
if TYPE_CHECKING:
    from geoprofile.products.maps.blanks import Blank

BLANK: dict[str, Any] = {"facecolor": theme.PAPER, "edgecolor": theme.FAINT, "linewidth": 0.5}


def draw_field(axes: Axes, drawing: MapDrawing, colours: list[str]) -> list[Entry]:
    """Bands, blanks and edges above the criterion; the entries of the legend."""
    draw_bands(axes, drawing, colours)
    plain = drawing.bandwidth.statistic == "median"
    entries = _draw_spread(axes, drawing) if plain else []
    entries += draw_assumed(axes, drawing.assumed)
    entries += _draw_outer(axes, drawing)
    entries += draw_blanks(axes, drawing.blanks)
    for probability, shape in drawing.edges.items():
        if not plain and probability != 0.5:
            continue  # the bands themselves end there
        look = line_look(probability)
        casing = [withStroke(linewidth=look["linewidth"] + 1.4, foreground=theme.PAPER, alpha=0.7)]
        lines = edge_lines(shape, drawing.domain)
        for part in lines:
            axes.plot(*np.asarray(part.coords)[:, :2].T, zorder=3, path_effects=casing, **look)
        text = exceedance_words(probability, _criterion(drawing))
        if not lines:  # a legend is not to name a line that nobody finds
            text += ": all of this map"
        entries.append(Entry("line", fill(text, LEGEND_WIDTH), look))
    return entries


def draw_bands(axes: Axes, drawing: MapDrawing, colours: list[str]) -> None:
    """The bands in their colours."""
    for row in drawing.bands:
        colour = colours[_row_index(drawing, row)]
        axes.add_patch(shape_patch(row["geometry"], facecolor=colour, edgecolor="none", zorder=1))


def line_look(probability: float) -> dict[str, Any]:
    """How the edge of a probability is drawn in every figure."""
    line = PROBABILITY_LINES[probability]
    return {"color": line.colour, "linewidth": line.points, "linestyle": line.on_off}


def _criterion(drawing: MapDrawing) -> str:
    """What the edges are the edges of, with its unit."""
    if drawing.criterion is None:
        raise DataError(
            f"map of {drawing.quantity}",
            "edges of what exceeds a criterion, and no criterion",
            "the criterion that they belong to",
            "Compute the maps again.",
        )
    return f"{tidy(drawing.criterion)} {SHOWN_UNITS.get(drawing.unit, drawing.unit)}"


def _draw_spread(axes: Axes, drawing: MapDrawing) -> list[Entry]:
    """Fade and limit of support, cut to what is mapped."""
    x, y, spread = drawing.spread
    clip = shape_patch(drawing.domain, facecolor="none", edgecolor="none")
    axes.add_patch(clip)
    shown: list[Any] = [draw_fade(axes, x, y, spread)]
    if np.nanmin(spread) < drawing.uncertain_sd < np.nanmax(spread):
        style = {k: [v] for k, v in SUPPORT_LINE.items()}
        shown.append(
            axes.contour(
                x,
                y,
                np.ma.masked_invalid(spread),
                levels=[drawing.uncertain_sd],
                colors=style["color"],
                linestyles=style["linestyle"],
                linewidths=style["linewidth"],
                zorder=2.5,
            )
        )
    for artist in shown:
        artist.set_clip_path(clip)
    return [Entry("line", support_words(drawing.uncertain_sd), SUPPORT_LINE)]


def _draw_outer(axes: Axes, drawing: MapDrawing) -> list[Entry]:
    """The line that holds the whole plume, open where no data bound it."""
    if drawing.outer is None or drawing.outer.is_empty:
        return []
    for part in getattr(drawing.outer, "geoms", (drawing.outer,)):
        axes.plot(*np.asarray(part.coords).T[:2], zorder=3.1, **OUTER)
    where = f"plume, at {marks.ANY_DEPTH}, inside"
    sure = f"{100 * drawing.confidence:.0f} % confidence: the whole\n{where}"
    return [Entry("line", sure, OUTER)]


def draw_assumed(axes: Axes, shape: Any) -> list[Entry]:
    """Hatch the ground whose shape no data hold, over the colours; the entry of the legend."""
    if shape is None or shape.is_empty:
        return []
    axes.add_patch(shape_patch(shape, zorder=2.2, **theme.ASSUMED))
    return [Entry("box", theme.ASSUMED_WORDS, theme.ASSUMED)]


def draw_blanks(axes: Axes, blanks: Sequence[Blank]) -> list[Entry]:
    """Parts of the map that show nothing, with a hatch per reason."""
    entries = []
    for blank in blanks:
        style = {**BLANK, "hatch": marks.NO_MAP[blank.reason].letters}
        axes.add_patch(shape_patch(blank.shape, zorder=2, **style))
        entries.append(Entry("box", fill(f"no map: {blank.label}", LEGEND_WIDTH), style))
    return entries


def _row_index(drawing: MapDrawing, row: dict[str, Any]) -> int:
    """Number of the band of a row."""
    levels = drawing.bandwidth.levels
    if row["lower"] is None:
        return 0
    return levels.index(row["lower"]) + 1


def occurring(drawing: MapDrawing) -> set[int]:
    """Numbers of the bands on the map or among the values shown."""
    found = {_row_index(drawing, row) for row in drawing.bands}
    if drawing.bandwidth.statistic == "median":
        levels = drawing.bandwidth.levels
        found |= {
            band_index(r["value"], levels) for *_, r in drawing.values if r["value"] is not None
        }
    return found
