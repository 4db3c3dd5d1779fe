"""The map of soil gas on a sheet: one substance at one depth below ground."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from matplotlib.figure import Figure

from geoprofile.drawing import people, theme
from geoprofile.drawing.bars import Placer
from geoprofile.drawing.document import document_of
from geoprofile.drawing.legend import LEFT, Entry, legend
from geoprofile.drawing.levels import tidy
from geoprofile.drawing.map_frame import (
    compass_axes,
    draw_areas,
    map_axes,
    north_arrow,
    scale_bar,
)
from geoprofile.drawing.symbols import shown_unit
from geoprofile.errors import DataError
from geoprofile.places import crs_name
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.boreholes.surfaces import ground_of
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.maps.blanks import Blank
from geoprofile.products.maps.figure import BOX_IN, area_entry, bounds_of
from geoprofile.products.maps.figure_marks import draw_boreholes
from geoprofile.products.maps.figure_model import draw_bands, draw_blanks, occurring
from geoprofile.products.maps.figure_numbers import MapDrawing
from geoprofile.products.maps.measured import results_of
from geoprofile.products.soil_gas.inputs import gas_evidence
from geoprofile.products.soil_gas.mapping import gas_bandwidth
from geoprofile.products.soil_gas.words import basis_of_parts
from geoprofile.schema.soil_gas import CAUTION, GAS_UNIT, IN_GAS, NEAR_M, PER_UG_PER_L, SOIL_GAS
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Job = tuple[str, str, str, Callable[[Path], tuple[Path, ...]]]


def gas_figures(site: Site) -> list[Job]:
    """The maps that can be drawn: what, name of the file, and how.

    Parameters
    ----------
    site : Site
        Table soil_gas_band.

    Returns
    -------
    list of tuple
        Quantity, words, name of the file, function. Substances with a criterion for gas come
        first, each at the depth of its highest value before its other depths.
    """
    judged = criteria_ug_per_l(site, SOIL_GAS)
    table = site.table("soil_gas_band")
    names = sorted(set(table["quantity"]), key=lambda q: (q.removesuffix(IN_GAS) not in judged, q))
    jobs: list[Job] = []
    for name in names:
        depths = sorted({float(d) for d in table.loc[table["quantity"] == name, "depth_m"]})
        highest = _depth_of_highest(site, name)
        for depth in sorted(depths, key=lambda d: (abs(d - highest), d)):
            jobs.append(_job(site, name, depth))
    return jobs


def _job(site: Site, quantity: str, depth_m: float) -> Job:
    return (
        quantity,
        f"the map of {quantity} at {depth_m:g} m",
        f"soil_gas_{quantity.removesuffix(IN_GAS)}_{depth_m:g}_m",
        lambda path: gas_map(site, path, quantity, depth_m),
    )


def gas_map(
    site: Site,
    path: str | Path,
    quantity: str,
    depth_m: float,
    *,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw a substance in soil gas at a depth below ground.

    Parameters
    ----------
    site : Site
        Tables soil_gas, soil_gas_band and soil_gas_blank, and what a site map shows.
    path : str or Path
        Of the files, without suffix.
    quantity : str
        Such as "benzene in soil gas".
    depth_m : float [m]
        Of the map.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        No such map.
    """
    drawing = _drawing(site, quantity, depth_m)
    with theme.sheet(theme.paper_landscape()) as figure:
        _draw(figure, site, drawing)
        return theme.save(figure, path, formats)


def _drawing(site: Site, quantity: str, depth_m: float) -> MapDrawing:
    """The numbers of the map, from the layers that are stored."""
    bands = _of_map(site, "soil_gas_band", quantity, depth_m)
    rows = [row for row in bands if row["statistic"] == "median"]
    if not rows:
        raise DataError(
            "map of soil gas",
            f"{quantity} at {depth_m:g} m",
            "a depth that is mapped",
            "Choose a depth of the table soil_gas_band.",
        )
    blanks = [
        Blank(r["reason"], r["limit"], r["unit"], r["geometry"])
        for r in _of_map(site, "soil_gas_blank", quantity, depth_m)
    ]
    judged = criteria_ug_per_l(site, SOIL_GAS).get(quantity.removesuffix(IN_GAS))
    nothing = np.zeros(0)
    return MapDrawing(
        quantity,
        rows[0]["round"],
        GAS_UNIT,
        people.translated(f"{depth_m:g} m below ground"),
        people.translated(f"measured within {NEAR_M:g} m\nof that depth"),
        gas_bandwidth(gas_evidence(site, quantity.removesuffix(IN_GAS))),
        tuple(rows),
        {},
        None if judged is None else PER_UG_PER_L * judged,
        tuple(_near(site, quantity, depth_m)),
        shapely.MultiPolygon(),
        tuple(blanks),
        (nothing, nothing, nothing),
        0.0,
    )


def _of_map(site: Site, table: str, quantity: str, depth_m: float) -> list[dict[str, Any]]:
    rows = site.table(table)
    return records_of(rows[(rows["quantity"] == quantity) & (rows["depth_m"] == depth_m)])


def _spans(site: Site, quantity: str) -> list[tuple[dict[str, Any], float, float, float, float]]:
    """Results with x, y, top and bottom below ground [m]."""
    lines, ground = interval_lines(site), ground_of(site)
    found = []
    for row in results_of(site, quantity):
        line = lines[row["interval"]]
        middle = 0.5 * (line[0] + line[-1])
        level = float(ground.at(middle[None, :2])[0])
        top, bottom = sorted((level - line[0][2], level - line[-1][2]))
        found.append((row, float(middle[0]), float(middle[1]), float(top), float(bottom)))
    return found


def _near(site: Site, quantity: str, depth_m: float) -> list[tuple[float, float, dict[str, Any]]]:
    """Values of the intervals next to the depth, the nearest of each hole."""
    best: dict[str, tuple[float, float, float, dict[str, Any]]] = {}
    for row, x, y, top, bottom in _spans(site, quantity):
        away = max(top - depth_m, depth_m - bottom, 0.0)
        hole = str(row["borehole"])
        if away <= NEAR_M and (hole not in best or away < best[hole][0]):
            best[hole] = (away, x, y, row)
    return [(x, y, row) for _, x, y, row in best.values()]


def _depth_of_highest(site: Site, quantity: str) -> float:
    spans = [s for s in _spans(site, quantity) if s[0]["value"] is not None]
    if not spans:
        return 0.0
    _, _, _, top, bottom = max(spans, key=lambda s: float(s[0]["value"]))
    return 0.5 * (top + bottom)


def _draw(figure: Figure, site: Site, drawing: MapDrawing) -> None:
    axes, scale = map_axes(figure, bounds_of(site), BOX_IN)
    colours = theme.band_colours(drawing.bandwidth, drawing.quantity)
    draw_bands(axes, drawing, colours)
    entries: list[Entry] = draw_blanks(axes, drawing.blanks)
    entries += [area_entry(kind) for kind in draw_areas(axes, site)]
    placer = Placer(axes)
    placer.keep_off(LEFT)
    entries += draw_boreholes(axes, site, placer, drawing=drawing, colours=colours)
    north_arrow(compass_axes(figure))
    scale_bar(axes, scale)
    _words(figure, site, drawing, placer)
    legend(
        figure,
        f"{drawing.quantity}\n[{shown_unit(drawing.unit)}]",
        entries,
        bandwidth=drawing.bandwidth,
        colours=colours,
        shown=occurring(drawing),
    )


def _words(figure: Figure, site: Site, drawing: MapDrawing, placer: Placer) -> None:
    left_out = f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else ""
    frame = f"Coordinates in {crs_name(site.crs)}, grid north up."
    about = f"median of a model of gas alone, round {drawing.round}"
    theme.title(figure, f"{drawing.quantity} at {drawing.place}", f"{site.name}; {about}")
    criterion = (
        ""
        if drawing.criterion is None
        else f"Criterion of the user for soil gas: {tidy(drawing.criterion)} "
        f"{shown_unit(GAS_UNIT)}."
    )
    parts = basis_of_parts(site, drawing.quantity.removesuffix(IN_GAS))
    theme.foot(figure, [frame, criterion, parts, left_out], CAUTION, document=document_of(site))
