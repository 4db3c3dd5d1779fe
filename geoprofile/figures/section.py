"""The section figure: measured intervals first, the field between them fading where unsure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from geoprofile.figures import _look as look
from geoprofile.figures._bars import Placer, bar_outline, draw_bar
from geoprofile.figures._legend import legend
from geoprofile.figures._map import round_scale
from geoprofile.figures._section_legend import (
    BASE_LINE,
    EDGE_LINE,
    RANGE_LINE,
    SUPPORT_LINE,
    entries_of,
    occurring,
)
from geoprofile.figures._veil import draw_veil
from geoprofile.figures.section_numbers import Drawing, drawing_of, section_drawing
from geoprofile.maps.exaggeration import vertical_exaggeration
from geoprofile.maps.sections import Section
from geoprofile.maps.slices import Slice

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BOX_IN = (1.0, 1.55, 7.95, 5.35)  # left, bottom, width, height of the drawing [inch]
LEAST_TURN_DEG = 2.0  # smaller bends are not marked
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def section_figure(
    site: Site,
    name: str,
    quantity: str,
    path: str | Path,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw one quantity in one section.

    Parameters
    ----------
    site : Site
        Tables as for the layer `section`.
    name : str
        Of the section line.
    quantity : str
        K, or an analyte.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such line, or one that makes no section.
    """
    drawing = section_drawing(site, name, quantity)
    with look.sheet(look.LANDSCAPE_IN) as figure:
        draw_section(figure, drawing)
        return look.save(figure, path, formats)


def free_section_figure(
    site: Site,
    section: Section,
    quantity: str,
    path: str | Path,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw one quantity in any section: through boreholes, along the flow or across it.

    Parameters
    ----------
    site : Site
        Tables as for the layer `section`.
    section : Section
        From `sections.along`.
    quantity : str
        K, or an analyte.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.
    """
    drawing = drawing_of(site, section, quantity)
    with look.sheet(look.LANDSCAPE_IN) as figure:
        draw_section(figure, drawing)
        return look.save(figure, path, formats)


def draw_section(figure: Figure, drawing: Drawing) -> None:
    """Put a drawing on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty A4 sheet, landscape.
    drawing : Drawing
        What to show.
    """
    axes, exaggeration, metres_per_inch = _axes(figure, drawing.section)
    colours = look.band_colours(drawing.bandwidth, drawing.quantity)
    if drawing.slice is not None:
        _field(axes, drawing, colours)
    _surfaces(axes, drawing.section)
    placer = Placer(axes)
    _intervals(axes, drawing, placer, colours=colours, exaggeration=exaggeration)
    _holes(axes, drawing.section, placer)
    _bends(axes, drawing)
    legend(
        figure,
        f"{drawing.quantity} [{drawing.unit_shown}]",
        entries_of(drawing, colours),
        bandwidth=drawing.bandwidth,
        colours=colours,
        shown=occurring(drawing),
    )
    _words(figure, drawing, placer, exaggeration=exaggeration, metres_per_inch=metres_per_inch)


def _axes(figure: Figure, section: Section) -> tuple[Axes, float, float]:
    """Axes with a round exaggeration, and the metres that one inch of the x axis stands for."""
    left, bottom, width, room = BOX_IN
    s0 = min(0.0, *(float(h.line[:, 0].min()) for h in section.holes), 0.0)
    s1 = max(section.plane.length_m, *(float(h.line[:, 0].max()) for h in section.holes), 0.0)
    margin = 0.02 * (s1 - s0)
    s0, s1 = s0 - margin, s1 + margin
    low = min(
        [float(section.base[:, 1].min()), *(float(h.line[:, 1].min()) for h in section.holes)]
    )
    high = float(section.ground[:, 1].max())
    height = 1.16 * (high - low)  # names of the holes stand above the ground
    exaggeration = vertical_exaggeration(s1 - s0, height, width=width, room=room)
    scale = 0.0254 * round_scale((s1 - s0) / width / 0.0254)
    width = (s1 - s0) / scale
    drawn = height * exaggeration / scale
    wide, tall = figure.get_size_inches()
    axes = figure.add_axes(
        (left / wide, (bottom + room - drawn) / tall, width / wide, drawn / tall)
    )
    axes.set_xlim(s0, s1)
    axes.set_ylim(low - 0.02 * (high - low), low - 0.02 * (high - low) + height)
    axes.set_xlabel("Distance along the section [m]")
    axes.set_ylabel("Elevation [m]")
    axes.spines[["top", "right"]].set_visible(False)
    return axes, exaggeration, scale


def _field(axes: Axes, drawing: Drawing, colours: list[str]) -> None:
    """Bands, fade, limit of support and criterion, all cut to the domain."""
    cut, width = drawing.slice, drawing.bandwidth
    if cut is None:
        return
    clip = _clip_path(axes, drawing.section.part(drawing.quantity))
    values = width.scaled(cut.median)
    inner = list(width.scaled(np.array(width.levels)))
    levels = [
        min(float(values.min()), inner[0]) - 1,
        *inner,
        max(float(values.max()), inner[-1]) + 1,
    ]
    shown = [axes.contourf(cut.s, cut.z, values, levels=levels, colors=colours, zorder=1)]
    image = draw_veil(axes, cut.s, cut.z, cut.log10_sd)
    shown.append(_lines(axes, cut, cut.log10_sd, [drawing.uncertain_sd], SUPPORT_LINE))
    if cut.probability is not None:
        shown.append(_lines(axes, cut, cut.probability, [0.5], EDGE_LINE))
        shown.append(_lines(axes, cut, cut.probability, [0.1, 0.9], RANGE_LINE))
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


def _surfaces(axes: Axes, section: Section) -> None:
    """Ground, bottoms of holes and water level."""
    axes.plot(*section.ground.T, color=look.GROUND, linewidth=1.8, zorder=4)
    axes.plot(*section.base.T, zorder=4, **BASE_LINE)
    if section.water is None:
        return
    axes.plot(*section.water.T, color=look.WATER, linewidth=1.1, zorder=4)
    s, z = section.water[len(section.water) // 40]
    axes.plot(
        [s],
        [z],
        marker="v",
        markersize=6,
        markerfacecolor=look.PAPER,
        markeredgecolor=look.WATER,
        zorder=5,
        markeredgewidth=1.0,
    )


def _intervals(
    axes: Axes, drawing: Drawing, placer: Placer, *, colours: list[str], exaggeration: float
) -> None:
    """Bars with their values beside them."""
    lines = {one.interval: one.line for one in drawing.section.intervals}
    span = float(np.ptp(axes.get_xlim()))
    width = 0.011 * span
    for row in drawing.rows:
        line = lines[row["interval"]]
        draw_bar(
            axes,
            line,
            row,
            bandwidth=drawing.bandwidth,
            colours=colours,
            width=width,
            exaggeration=exaggeration,
        )
        placer.block(bar_outline(line, width, exaggeration))
    for row in sorted(drawing.rows, key=lambda r: -(r["value"] or 0.0)):
        line = lines[row["interval"]]
        z = float(line[[0, -1], 1].mean())
        right, left = float(line[:, 0].max()) + 0.9 * width, float(line[:, 0].min()) - 0.9 * width
        places = [(right, z, "left", "center"), (left, z, "right", "center")]
        placer.put(row["label"].removesuffix(drawing.unit_shown).strip(), places, size=6.3)


def _holes(axes: Axes, section: Section, placer: Placer) -> None:
    """Holes with name and distance of projection above the ground."""
    reach = float(np.ptp(axes.get_ylim()))
    for hole in section.holes:
        axes.plot(*hole.line.T, color=look.INK, linewidth=0.9, zorder=5)
        s, z = hole.line[0]
        axes.plot([s], [z], marker="o", markersize=3.5, color=look.INK, zorder=7)
        text = f"{hole.borehole}\n{hole.projection_m:.0f} m"
        places = [(s, z + (0.015 + 0.045 * k) * reach, "center", "bottom") for k in range(3)]
        placer.put(text, places, size=7, linespacing=1.15)


def _bends(axes: Axes, drawing: Drawing) -> None:
    """Bends of the line and crossings with other sections, marked at the lower edge."""
    plane = drawing.section.plane
    low = axes.get_ylim()[0]
    turns = (np.diff(plane.azimuths) + 180.0) % 360.0 - 180.0
    for k, distance in enumerate(plane.bends[1:-1]):
        if abs(turns[k]) < LEAST_TURN_DEG:
            continue
        axes.axvline(distance, color=look.QUIET, linewidth=0.6, linestyle=(0, (1, 2)), zorder=3)
        turn = f"   bend {plane.azimuths[k]:.0f}° to {plane.azimuths[k + 1]:.0f}°"
        axes.text(
            distance, low, turn, size=6.3, color=look.QUIET, rotation=90, va="bottom", ha="right"
        )
    for distance, name in drawing.crossings:
        axes.plot(
            [distance], [low], marker="^", markersize=6, color=look.INK, clip_on=False, zorder=8
        )
        axes.text(distance, low, f"  {name}", size=6.3, va="bottom", ha="left")


def _words(
    figure: Figure, drawing: Drawing, placer: Placer, *, exaggeration: float, metres_per_inch: float
) -> None:
    """Heading, directions at the ends and notes."""
    section = drawing.section
    azimuths = section.plane.azimuths
    axes = placer.axes
    start, end = compass(azimuths[0] + 180), compass(azimuths[-1])
    axes.text(
        0,
        1.015,
        f"{start} ({(azimuths[0] + 180) % 360:.0f}°)",
        transform=axes.transAxes,
        weight="bold",
    )
    axes.text(
        1,
        1.015,
        f"{end} ({azimuths[-1]:.0f}°)",
        transform=axes.transAxes,
        weight="bold",
        ha="right",
    )
    what = "Hydraulic conductivity K" if drawing.quantity == "K" else drawing.quantity
    holes = len({r["borehole"] for r in drawing.rows})
    about = [
        f"{len(drawing.rows)} intervals in {holes} boreholes",
        f"round {drawing.round}" if drawing.round else "",
        drawing.dates,
    ]
    look.title(figure, f"Section {section.name}: {what}", ", ".join(a for a in about if a))
    scale = f"{metres_per_inch / 0.0254:,.0f}".replace(",", " ")
    notes = [
        f"Horizontal scale 1:{scale} on A4, vertical exaggeration {exaggeration:g} times. "
        f"Elevation in m, {drawing.vertical_datum}. Azimuths from grid north.",
        f"Boreholes within {section.band_width_m:g} m are projected at right angles; the figure "
        "below each name is the largest distance of projection.",
        f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else "",
        "; ".join(section.notes),
        "No field was fitted for this quantity: only measured intervals are shown."
        if drawing.slice is None
        else "",
    ]
    look.foot(figure, notes)


def compass(azimuth_deg: float) -> str:
    """Nearest of the eight directions.

    Parameters
    ----------
    azimuth_deg : float [deg]
        From north, clockwise.

    Returns
    -------
    str
        N, NE, ...
    """
    return COMPASS[round((azimuth_deg % 360) / 45) % 8]
