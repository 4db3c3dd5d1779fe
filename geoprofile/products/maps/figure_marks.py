"""What stands on a site map: sections, boreholes and values measured near it."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from geoprofile.drawing import marks, people, theme
from geoprofile.drawing.bars import Placer, band_index
from geoprofile.drawing.legend import Entry
from geoprofile.drawing.names import far_end, near_end, short_names
from geoprofile.drawing.symbols import shown_unit
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.maps.figure_numbers import MapDrawing

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


def draw_heads(axes: Axes, site: Site, placer: Placer) -> list[Entry]:
    """Head contours with their heads; the entries of the legend."""
    contours = site.table("head_contour")
    style = marks.HEAD_CONTOUR.figure
    for shape, words in zip(contours.geometry, contours["label"], strict=True):
        xy = np.asarray(shape.coords)[:, :2]
        axes.plot(*xy.T, zorder=2, **style)
        places = [xy[round(share * (len(xy) - 1))] for share in (0.0, 1.0, 0.5, 0.25, 0.75)]
        label = people.translated(words)
        placer.put(label, [(float(x), float(y), "center", "center") for x, y in places], size=6.5)
    return [Entry("line", "head contour", style)] if len(contours) else []


def draw_sections(axes: Axes, site: Site, placer: Placer) -> list[Entry]:
    """Section lines with their names at both ends; the entries of the legend."""
    style = marks.SECTION.figure
    lines = site.table("section_line")
    for name, shape in zip(lines["name"], lines.geometry, strict=True):
        for part in getattr(shape, "geoms", [shape]):
            xy = np.asarray(part.coords)[:, :2]
            axes.plot(*xy.T, zorder=5, **style)
            placer.put(near_end(str(name)), _beyond(axes, xy[0], xy[1]), size=8, weight="bold")
            placer.put(far_end(str(name)), _beyond(axes, xy[-1], xy[-2]), size=8, weight="bold")
    return [Entry("line", "section", style)] if len(lines) else []


def _beyond(axes: Axes, end: Array, before: Array) -> list[tuple[float, float, str, str]]:
    """Places for a name past the end of a line."""
    away = (end - before) / max(float(np.linalg.norm(end - before)), 1e-9)
    step = 0.012 * float(np.ptp(axes.get_xlim()))
    return [
        (float(end[0] + k * step * away[0]), float(end[1] + k * step * away[1]), "center", "center")
        for k in (1.2, 2.0, 3.0, -1.5)
    ]


def draw_boreholes(
    axes: Axes, site: Site, placer: Placer, *, drawing: MapDrawing | None, colours: list[str]
) -> list[Entry]:
    """Collars, paths of leaning holes and values near the map; the entries of the legend."""
    entries = [Entry("marker", "borehole", {"marker": "o", "markerfacecolor": theme.PAPER})]
    reach = 0.008 * float(np.ptp(axes.get_xlim()))
    for path in paths_of(site).values():
        line = path.line(0.0, path.length_m)
        if path.surveyed:
            axes.plot(line[:, 0], line[:, 1], color=theme.INK, linewidth=0.8, zorder=6)
        x, y = line[0, :2]
        axes.plot(
            [x],
            [y],
            "o",
            markersize=5,
            markerfacecolor=theme.PAPER,
            markeredgecolor=theme.INK,
            markeredgewidth=0.9,
            zorder=7,
        )
        placer.block(np.array([[x - reach, y - reach], [x + reach, y + reach]]))
    if drawing is not None:
        entries += _draw_values(axes, drawing, placer, colours)
    names = short_names(paths_of(site))
    for name, path in paths_of(site).items():
        x, y = path.station_xyz[0, :2]
        placer.put(names[name], around(float(x), float(y), 1.3 * reach), size=7, weight="bold")
    return entries


def _draw_values(
    axes: Axes, drawing: MapDrawing, placer: Placer, colours: list[str]
) -> list[Entry]:
    """Values measured near the elevation, in the colour of their band."""
    plain = drawing.bandwidth.statistic != "median"
    reach = 0.008 * float(np.ptp(axes.get_xlim()))
    for x, y, row in drawing.values:
        face = theme.PAPER
        if row["value"] is not None and not plain:
            face = colours[band_index(row["value"], drawing.bandwidth.levels)]
        shape = "D" if row["value"] is not None else "d"
        axes.plot(
            [x],
            [y],
            shape,
            markersize=6.5,
            markerfacecolor=face,
            markeredgecolor=theme.EDGE,
            markeredgewidth=1.0,
            zorder=8,
        )
        placer.block(np.array([[x - reach, y - reach], [x + reach, y + reach]]))
    for x, y, row in drawing.values:
        label = row["label"].removesuffix(shown_unit(drawing.unit)).strip()
        below = around(x, y, 1.3 * reach)
        placer.put(label, [below[2], below[3], *below[:2], *below[4:]], size=6.5)
    entries = [
        Entry(
            "marker",
            people.translated(drawing.near),
            {"marker": "D", "markerfacecolor": theme.FAINT},
        )
    ]
    if any(row["value"] is None for *_, row in drawing.values):
        style = {"marker": "d", "markerfacecolor": theme.PAPER}
        entries.append(Entry("marker", "not detected at this elevation", style))
    return entries


def around(x: float, y: float, step: float) -> list[tuple[float, float, str, str]]:
    """Places for a text around a point.

    Parameters
    ----------
    x, y, step : float [m]
        The point, and how far from it.

    Returns
    -------
    list of tuple
        x, y [m], horizontal and vertical alignment; the best first.
    """
    return [
        (x + step, y + step, "left", "bottom"),
        (x - step, y + step, "right", "bottom"),
        (x + step, y - step, "left", "top"),
        (x - step, y - step, "right", "top"),
        (x, y + 1.6 * step, "center", "bottom"),
        (x, y - 1.6 * step, "center", "top"),
        (x + 3 * step, y + 3 * step, "left", "bottom"),
        (x - 3 * step, y - 3 * step, "right", "top"),
    ]
