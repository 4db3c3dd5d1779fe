"""The site map: one quantity at one place, with boreholes, sections, areas and flow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from geoprofile.bridges.holes import paths_of
from geoprofile.figures import _look as look
from geoprofile.figures._bars import Placer, band_index
from geoprofile.figures._legend import Entry, legend
from geoprofile.figures._map import (
    compass_axes,
    draw_areas,
    flow_arrow,
    map_axes,
    north_arrow,
    scale_bar,
    shape_patch,
)
from geoprofile.figures._section_legend import SUPPORT_LINE, support_words
from geoprofile.figures._veil import draw_veil
from geoprofile.figures.map_numbers import MapDrawing, map_drawing
from geoprofile.maps.grids import domain_of
from geoprofile.maps.levels import SHOWN_UNITS, tidy

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BOX_IN = (0.8, 1.15, 8.2, 6.05)  # left, bottom, width, height of the map [inch]
SCALE_BAR_ROOM = 0.1  # of the height of the site, below it [-]
WORDS = {"site": "site area", "no drilling": "no drilling", "source": "source area"}
DASHES: dict[float, Any] = {0.1: (0, (1.2, 1.6)), 0.5: "solid", 0.9: (0, (5, 1.5))}


def site_map(
    site: Site,
    path: str | Path,
    quantity: str | None = None,
    *,
    elevation_m: float | None = None,
    depth_m: float | None = None,
    hydro_unit: str | None = None,
    statistic: str = "median",
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw the site with a quantity at an elevation, at a depth or in a unit, or boreholes alone.

    Parameters
    ----------
    site : Site
        Tables as for the layer `map_band`; flow and section_line where there are any.
    path : str or Path
        Of the files, without suffix.
    quantity : str, optional
        K, or an analyte; none draws boreholes, areas and sections only.
    elevation_m : float, optional [m]
        Of the map; the one of the map layer that lies nearest to the highest value when left out.
    depth_m : float, optional [m]
        Below ground, instead.
    hydro_unit : str, optional
        At half the height of this unit, instead.
    statistic : str
        median, or probability of exceeding the criterion.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such field, no criterion for a probability, or a place with nothing to map.
    """
    drawing = None
    if quantity is not None:
        drawing = map_drawing(
            site,
            quantity,
            elevation_m=elevation_m,
            depth_m=depth_m,
            hydro_unit=hydro_unit,
            statistic=statistic,
        )
    with look.sheet(look.LANDSCAPE_IN) as figure:
        draw_map(figure, site, drawing)
        return look.save(figure, path, formats)


def draw_map(figure: Figure, site: Site, drawing: MapDrawing | None) -> None:
    """Put a site map on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty A4 sheet, landscape.
    site : Site
        Gives boreholes, areas, sections and flow.
    drawing : MapDrawing or None
        The field; None draws the site alone.
    """
    axes, scale = map_axes(figure, _bounds(site), BOX_IN)
    entries: list[Entry] = []
    colours: list[str] = []
    if drawing is not None:
        colours = look.band_colours(drawing.bandwidth, drawing.quantity)
        entries += _draw_field(axes, drawing, colours)
    entries += [_area_entry(kind) for kind in draw_areas(axes, site)]
    placer = Placer(axes)
    entries += _draw_sections(axes, site, placer)
    entries += _draw_boreholes(axes, site, placer, drawing=drawing, colours=colours)
    entries += _draw_flow(figure, site)
    scale_bar(axes, scale)
    _words(figure, site, drawing, placer)
    shown = set() if drawing is None else _occurring(drawing)
    heading, bandwidth = "", None
    if drawing is not None:
        bandwidth = drawing.bandwidth
        heading = _heading(drawing)
    legend(figure, heading, entries, bandwidth=bandwidth, colours=colours, shown=shown)


def _bounds(site: Site) -> tuple[float, float, float, float]:
    """What the map must show."""
    import shapely

    shapes = [domain_of(site), shapely.MultiPoint(site.boreholes[["x", "y"]].to_numpy(np.float64))]
    shapes += list(site.table("section_line").geometry)
    west, south, east, north = shapely.GeometryCollection(shapes).bounds
    return west, south - SCALE_BAR_ROOM * (north - south), east, north


def _draw_field(axes: Axes, drawing: MapDrawing, colours: list[str]) -> list[Entry]:
    """Bands and edges above the criterion."""
    for row in drawing.bands:
        colour = colours[_row_index(drawing, row)]
        axes.add_patch(shape_patch(row["geometry"], facecolor=colour, edgecolor="none", zorder=1))
    plain = drawing.bandwidth.statistic == "median"
    entries = _draw_spread(axes, drawing) if plain else []
    for probability, shape in drawing.edges.items():
        if not plain and probability != 0.5:
            continue  # the bands themselves end there
        style: dict[str, Any] = {"edgecolor": look.EDGE, "linestyle": DASHES[probability]}
        weight = 1.6 if probability == 0.5 else 0.9
        casing = [withStroke(linewidth=weight + 1.4, foreground=look.PAPER, alpha=0.7)]
        axes.add_patch(
            shape_patch(
                shape, facecolor="none", linewidth=weight, zorder=3, path_effects=casing, **style
            )
        )
        line = {"color": look.EDGE, "linewidth": weight, "linestyle": DASHES[probability]}
        level = f"{tidy(drawing.criterion or 0)} {SHOWN_UNITS.get(drawing.unit, drawing.unit)}"
        text = f"{100 * probability:.0f} % chance of\nmore than {level}"
        entries.append(Entry("line", text, line))
    return entries


def _draw_spread(axes: Axes, drawing: MapDrawing) -> list[Entry]:
    """Veil and limit of support, cut to what is mapped."""
    x, y, spread = drawing.spread
    clip = shape_patch(drawing.domain, facecolor="none", edgecolor="none")
    axes.add_patch(clip)
    shown: list[Any] = [draw_veil(axes, x, y, spread)]
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


def _row_index(drawing: MapDrawing, row: dict[str, Any]) -> int:
    """Number of the band of a row."""
    levels = drawing.bandwidth.levels
    if row["lower"] is None:
        return 0
    return levels.index(row["lower"]) + 1


def _occurring(drawing: MapDrawing) -> set[int]:
    """Bands on the map or among the values shown."""
    found = {_row_index(drawing, row) for row in drawing.bands}
    if drawing.bandwidth.statistic == "median":
        levels = drawing.bandwidth.levels
        found |= {
            band_index(r["value"], levels) for *_, r in drawing.values if r["value"] is not None
        }
    return found


def _heading(drawing: MapDrawing) -> str:
    """Heading of the legend."""
    if drawing.bandwidth.statistic == "probability":
        unit = SHOWN_UNITS.get(drawing.unit, drawing.unit)
        return f"Chance of {drawing.quantity}\nabove {tidy(drawing.criterion or 0)} {unit}"
    return f"{drawing.quantity} [{SHOWN_UNITS.get(drawing.unit, drawing.unit)}]"


def _area_entry(kind: str) -> Entry:
    """Legend entry of an area."""
    from geoprofile.figures._map import AREA_LOOKS

    return Entry("box", WORDS[kind], AREA_LOOKS[kind])


def _draw_sections(axes: Axes, site: Site, placer: Placer) -> list[Entry]:
    """Section lines with their names at both ends."""
    style: dict[str, Any] = {"color": look.INK, "linewidth": 0.9, "linestyle": (0, (8, 3, 2, 3))}
    lines = site.table("section_line")
    for name, shape in zip(lines["name"], lines.geometry, strict=True):
        for part in getattr(shape, "geoms", [shape]):
            xy = np.asarray(part.coords)[:, :2]
            axes.plot(*xy.T, zorder=5, **style)
            placer.put(str(name), _beyond(axes, xy[0], xy[1]), size=8, weight="bold")
            placer.put(f"{name}'", _beyond(axes, xy[-1], xy[-2]), size=8, weight="bold")
    return [Entry("line", "section", style)] if len(lines) else []


def _beyond(axes: Axes, end: Array, before: Array) -> list[tuple[float, float, str, str]]:
    """Places for a name past the end of a line."""
    away = (end - before) / max(float(np.linalg.norm(end - before)), 1e-9)
    step = 0.012 * float(np.ptp(axes.get_xlim()))
    return [
        (float(end[0] + k * step * away[0]), float(end[1] + k * step * away[1]), "center", "center")
        for k in (1.2, 2.0, 3.0, -1.5)
    ]


def _draw_boreholes(
    axes: Axes, site: Site, placer: Placer, *, drawing: MapDrawing | None, colours: list[str]
) -> list[Entry]:
    """Collars, paths of leaning holes and values near the elevation."""
    entries = [Entry("marker", "borehole", {"marker": "o", "markerfacecolor": look.PAPER})]
    reach = 0.008 * float(np.ptp(axes.get_xlim()))
    for path in paths_of(site).values():
        line = path.line(0.0, path.length_m)
        if path.surveyed:
            axes.plot(line[:, 0], line[:, 1], color=look.INK, linewidth=0.8, zorder=6)
        x, y = line[0, :2]
        axes.plot(
            [x],
            [y],
            "o",
            markersize=5,
            markerfacecolor=look.PAPER,
            markeredgecolor=look.INK,
            markeredgewidth=0.9,
            zorder=7,
        )
        placer.block(np.array([[x - reach, y - reach], [x + reach, y + reach]]))
    if drawing is not None:
        entries += _draw_values(axes, drawing, placer, colours)
    for name, path in paths_of(site).items():
        x, y = path.station_xyz[0, :2]
        placer.put(name, around(float(x), float(y), 1.3 * reach), size=7, weight="bold")
    return entries


def _draw_values(
    axes: Axes, drawing: MapDrawing, placer: Placer, colours: list[str]
) -> list[Entry]:
    """Values measured near the elevation, in the colour of their band."""
    plain = drawing.bandwidth.statistic != "median"
    reach = 0.008 * float(np.ptp(axes.get_xlim()))
    for x, y, row in drawing.values:
        face = look.PAPER
        if row["value"] is not None and not plain:
            face = colours[band_index(row["value"], drawing.bandwidth.levels)]
        shape = "D" if row["value"] is not None else "d"
        axes.plot(
            [x],
            [y],
            shape,
            markersize=6.5,
            markerfacecolor=face,
            markeredgecolor=look.EDGE,
            markeredgewidth=1.0,
            zorder=8,
        )
        placer.block(np.array([[x - reach, y - reach], [x + reach, y + reach]]))
    for x, y, row in drawing.values:
        label = row["label"].split(" µ")[0].split(" m/s")[0]
        below = around(x, y, 1.3 * reach)
        placer.put(label, [below[2], below[3], *below[:2], *below[4:]], size=6.5)
    entries = [
        Entry(
            "marker",
            drawing.near,
            {"marker": "D", "markerfacecolor": look.FAINT},
        )
    ]
    if any(row["value"] is None for *_, row in drawing.values):
        style = {"marker": "d", "markerfacecolor": look.PAPER}
        entries.append(Entry("marker", "not detected there", style))
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


def _draw_flow(figure: Figure, site: Site) -> list[Entry]:
    """Needle and direction of flow above the legend."""
    axes = compass_axes(figure)
    north_arrow(axes)
    flow = site.table("flow")
    if flow.empty:
        return []
    row = flow.iloc[0]
    spread = float(row["azimuth_sd_deg"]) if row["azimuth_sd_deg"] == row["azimuth_sd_deg"] else 0.0
    flow_arrow(axes, float(row["azimuth_deg"]), spread)
    words = f"flow towards {row['azimuth_deg']:.0f}°"
    words += f" ± {spread:.0f}°" if spread else ""
    text = f"{words},\ngradient {float(row['gradient']):.2g}"
    return [Entry("line", text, {"color": look.WATER, "linewidth": 1.8})]


def _words(figure: Figure, site: Site, drawing: MapDrawing | None, placer: Placer) -> None:
    """Heading and notes."""
    left_out = f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else ""
    frame = f"Coordinates in {site.crs}, grid north up. Elevations in m, {site.vertical_datum}."
    if drawing is None:
        look.title(figure, f"{site.name}: boreholes", "")
        look.foot(
            figure, [frame, left_out], "Locate buried services before any digging or drilling."
        )
        return
    what = "Hydraulic conductivity K" if drawing.quantity == "K" else drawing.quantity
    chance = drawing.bandwidth.statistic == "probability"
    about = "chance of lying above the criterion" if chance else "median of the field"
    about += f", round {drawing.round}" if drawing.round else ""
    look.title(figure, f"{what} at {drawing.place}", f"{site.name}; {about}")
    look.foot(figure, [frame, left_out])
