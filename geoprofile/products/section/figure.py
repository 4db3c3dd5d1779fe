"""The section figure: measured intervals first, the field between them fading where unsure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geoprofile.drawing import people, theme
from geoprofile.drawing.bars import Placer
from geoprofile.drawing.legend import LEFT, legend
from geoprofile.drawing.map_frame import round_scale
from geoprofile.drawing.redrawn import unless_there
from geoprofile.products.section.exaggeration import vertical_exaggeration
from geoprofile.products.section.figure_legend import draw_units, entries_of, occurring
from geoprofile.products.section.figure_marks import (
    draw_bends,
    draw_holes,
    draw_intervals,
    draw_logs,
    draw_proposals,
    name_contacts,
)
from geoprofile.products.section.figure_model import draw_field, draw_surfaces
from geoprofile.products.section.figure_numbers import Drawing, drawing_of, section_drawing
from geoprofile.products.section.figure_wording import write_ends, write_words
from geoprofile.products.section.sections import Section

if TYPE_CHECKING:
    from geoprofile.site import Site

BOX_IN = (1.0, 1.68, 7.95, 5.22)  # left, bottom, width, height of the drawing [inch]


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
    return _drawn(section_drawing(site, name, quantity), path, formats)


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
    return _drawn(drawing_of(site, section, quantity), path, formats)


def _drawn(drawing: Drawing, path: str | Path, formats: Sequence[str]) -> tuple[Path, ...]:
    """A sheet with a drawing, unless it is there already."""

    def draw(place: Path) -> tuple[Path, ...]:
        with theme.sheet(theme.paper_landscape()) as figure:
            draw_section(figure, drawing)
            return theme.save(figure, place, formats)

    return unless_there(path, formats, drawing, draw)


def draw_section(figure: Figure, drawing: Drawing) -> None:
    """Put a drawing on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, across.
    drawing : Drawing
        What to show.
    """
    axes, exaggeration, metres_per_inch = _axes(figure, drawing.section)
    colours = theme.band_colours(drawing.bandwidth, drawing.quantity)
    draw_field(axes, drawing, colours)
    draw_surfaces(axes, drawing)
    placer = Placer(axes)
    placer.keep_off(LEFT)
    write_ends(drawing.section, placer)
    draw_bends(axes, drawing, placer)
    draw_logs(axes, drawing, exaggeration=exaggeration)
    draw_intervals(axes, drawing, placer, colours=colours, exaggeration=exaggeration)
    draw_holes(axes, drawing.section, placer)
    draw_proposals(axes, drawing.proposals, placer)
    name_contacts(drawing.contacts, placer)
    legend(
        figure,
        f"{drawing.quantity} [{drawing.unit_shown}]",
        entries_of(drawing, colours),
        bandwidth=drawing.bandwidth,
        colours=colours,
        shown=occurring(drawing),
    )
    foot = write_words(
        figure, drawing, placer, exaggeration=exaggeration, metres_per_inch=metres_per_inch
    )
    draw_units(figure, drawing, above=foot)


def _axes(figure: Figure, section: Section) -> tuple[Axes, float, float]:
    """Axes with a round exaggeration, and the metres that one inch of the x axis stands for."""
    left, bottom, width, room = theme.on_sheet(figure, BOX_IN)
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
    people.length_axis(axes.xaxis)
    people.length_axis(axes.yaxis)
    axes.spines[["top", "right"]].set_visible(False)
    return axes, exaggeration, scale
