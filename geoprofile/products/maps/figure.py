"""The site map: one quantity at one place, with boreholes, sections, areas and flow."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import shorten
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from geoprofile.drawing import marks, people, theme
from geoprofile.drawing.bars import Placer
from geoprofile.drawing.document import document_of
from geoprofile.drawing.legend import LEFT, Entry, legend
from geoprofile.drawing.levels import SHOWN_UNITS, tidy
from geoprofile.drawing.map_frame import (
    compass_axes,
    draw_areas,
    flow_arrow,
    map_axes,
    north_arrow,
    scale_bar,
)
from geoprofile.drawing.redrawn import unless_there
from geoprofile.drawing.symbols import area_kind, units_in
from geoprofile.places import crs_name
from geoprofile.products.maps.figure_marks import draw_boreholes, draw_heads, draw_sections
from geoprofile.products.maps.figure_model import draw_field, occurring
from geoprofile.products.maps.figure_numbers import MapDrawing, map_drawing
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.model.inputs import K
from geoprofile.products.model.limits import limits_in_words

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
BOX_IN = (0.8, 1.45, 8.2, 5.8)  # left, bottom, width, height of the map [inch]
MOST_LETTERS = 350  # of what is said of substances without a map
# what the map shows beside its drawing
READ_OF_ANALYTES = (
    "area",
    "borehole",
    "survey",
    "section_line",
    "flow",
    "concentration",
    "criterion",
)
READ = (*READ_OF_ANALYTES, "head_contour", "model")
SCALE_BAR_ROOM = 0.1  # of the height of the site, below it [-]
WORDS = {"site": "site area", "no drilling": "no drilling", "source": "source area"}


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
    shown = site.only(READ if drawing is None or drawing.quantity == K else READ_OF_ANALYTES)

    def draw(place: Path) -> tuple[Path, ...]:
        with theme.sheet(theme.paper_landscape()) as figure:
            draw_map(figure, shown, drawing)
            return theme.save(figure, place, formats)

    return unless_there(path, formats, (drawing, shown.content()), draw)


def draw_map(figure: Figure, site: Site, drawing: MapDrawing | None) -> None:
    """Put a site map on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, across.
    site : Site
        Gives boreholes, areas, sections and flow.
    drawing : MapDrawing or None
        The field; None draws the site alone.
    """
    axes, scale = map_axes(figure, bounds_of(site), BOX_IN)
    entries: list[Entry] = []
    colours: list[str] = []
    if drawing is not None:
        colours = theme.band_colours(drawing.bandwidth, drawing.quantity)
        entries += draw_field(axes, drawing, colours)
    entries += [area_entry(kind) for kind in draw_areas(axes, site)]
    placer = Placer(axes)
    placer.keep_off(LEFT)
    for ring in site_borders(site):
        placer.keep_clear_of(ring)
    entries += draw_sections(axes, site, placer)
    entries += draw_boreholes(axes, site, placer, drawing=drawing, colours=colours)
    if drawing is None:  # on bands they would only be in the way
        entries += draw_heads(axes, site, placer)
    entries += _draw_flow(figure, site)
    scale_bar(axes, scale)
    _words(figure, site, drawing, placer)
    shown = set() if drawing is None else occurring(drawing)
    heading, bandwidth = "", None
    if drawing is not None:
        bandwidth = drawing.bandwidth
        heading = _heading(drawing)
    legend(figure, heading, entries, bandwidth=bandwidth, colours=colours, shown=shown)


def bounds_of(site: Site) -> tuple[float, float, float, float]:
    """What the map must show."""
    import shapely

    shapes = [domain_of(site), shapely.MultiPoint(site.boreholes[["x", "y"]].to_numpy(np.float64))]
    shapes += list(site.table("section_line").geometry)
    west, south, east, north = shapely.GeometryCollection(shapes).bounds
    return west, south - SCALE_BAR_ROOM * (north - south), east, north


def _heading(drawing: MapDrawing) -> str:
    """Heading of the legend."""
    if drawing.bandwidth.statistic == "probability":
        unit = SHOWN_UNITS.get(drawing.unit, drawing.unit)
        return f"Probability of {drawing.quantity}\nabove {tidy(drawing.criterion or 0)} {unit}"
    return f"{drawing.quantity} [{SHOWN_UNITS.get(drawing.unit, drawing.unit)}]"


def site_borders(site: Site) -> list[Array]:
    """The outer borders of the site, shape (n, 2) [m]: no name is written over them."""
    areas = site.table("area")
    shapes = areas.loc[areas["kind"].map(area_kind) == "site"].geometry
    singles = (one for shape in shapes for one in getattr(shape, "geoms", [shape]))
    return [np.asarray(one.exterior.coords)[:, :2] for one in singles if not one.is_empty]


def area_entry(kind: str) -> Entry:
    """Legend entry of an area."""
    from geoprofile.drawing.map_frame import AREA_LOOKS

    return Entry("box", WORDS[kind], AREA_LOOKS[kind])


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
    if spread:
        words += f" ± {spread:.0f}°" if round(spread) else " (sd under 1°)"
    text = f"{words},\ngradient {float(row['gradient']):.2g}"
    return [Entry("line", text, marks.FLOW.figure)]


def _words(figure: Figure, site: Site, drawing: MapDrawing | None, placer: Placer) -> None:
    """Heading and notes."""
    left_out = f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else ""
    system = crs_name(site.crs)
    unit = people.now().unit("m")
    frame = f"Coordinates in {system}, grid north up. Elevations in {unit}, {site.vertical_datum}."
    if drawing is None:
        theme.title(figure, f"{site.name}: boreholes", "")
        theme.foot(
            figure,
            [f"{frame} {left_out}", unmapped(site)],
            "Locate buried services before any digging or drilling.",
            document=document_of(site),
        )
        return
    what = "Hydraulic conductivity K" if drawing.quantity == K else drawing.quantity
    chance = drawing.bandwidth.statistic == "probability"
    about = "probability of exceeding the criterion" if chance else "median of the model"
    about += f", round {drawing.round}" if drawing.round else ""
    about += sampled(site, drawing)
    theme.title(figure, f"{what} at {people.translated(drawing.place)}", f"{site.name}; {about}")
    about = unmapped(site) if drawing.quantity == K else criterion_words(site, drawing)
    theme.foot(figure, [f"{frame} {left_out}", about], document=document_of(site))


def unmapped(site: Site) -> str:
    """Which substances have no map, and why, as far as two lines hold it."""
    text = people.translated(" ".join(limits_in_words(site)))
    return shorten(units_in(text), MOST_LETTERS, placeholder=" …")


def sampled(site: Site, drawing: MapDrawing) -> str:
    """First and last day of the samples; nothing for K."""
    table = site.table("concentration")
    used = table[table["analyte"] == drawing.quantity]
    if drawing.round is not None:
        used = used[used["round"] == drawing.round]
    days = sorted({str(t)[:10] for t in used["sampled_at"].dropna()})
    if not days:
        return ""
    return f", sampled {days[0]}" + (f" to {days[-1]}" if days[-1] != days[0] else "")


def criterion_words(site: Site, drawing: MapDrawing) -> str:
    """The criterion of the user, and what it rests on."""
    if drawing.criterion is None:
        return ""
    table = site.table("criterion")
    basis = [str(b) for b in table.loc[table["analyte"] == drawing.quantity, "basis"].dropna()]
    told = f": {'; '.join(dict.fromkeys(basis))}" if basis else ", its basis is not stated"
    unit = SHOWN_UNITS.get(drawing.unit, drawing.unit)
    return f"Criterion of the user for {drawing.quantity}: {tidy(drawing.criterion)} {unit}{told}."
