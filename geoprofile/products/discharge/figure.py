"""Where the mass discharge passes a section: flux per area, and grams a day per stretch."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from numpy.typing import NDArray

from geoprofile.drawing import marks, people, theme
from geoprofile.drawing.document import document_of
from geoprofile.drawing.legend import Entry, legend
from geoprofile.drawing.levels import Bandwidth, flux_levels, nice_step
from geoprofile.errors import DataError
from geoprofile.products.section.lines import sheet_starts
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

PLANE, BARS = (0.09, 0.5, 0.66, 0.36), (0.09, 0.2, 0.66, 0.2)  # boxes on the sheet [-]
STRETCHES = 20  # about how many bars
NAMED = 3  # strongest cells
BAR: dict[str, Any] = {"facecolor": marks.MASS, "edgecolor": theme.EDGE, "linewidth": 0.5}


NAME: dict[str, Any] = {
    "color": theme.PAPER,
    "markersize": 6,
    "markeredgecolor": theme.INK,
    "markeredgewidth": 0.6,
    "markerfacecolor": theme.INK,
    "linestyle": "none",
    "path_effects": theme.HALO,
}


def discharge_figure(
    site: Site,
    section: str,
    analyte: str,
    path: str | Path,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw where an analyte passes a section.

    Parameters
    ----------
    site : Site
        Tables discharge, discharge_cell and section_line.
    section, analyte : str
        Of a row of the table discharge.
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
        No such row.
    """
    rows, cells = (
        table[(table["section"] == section) & (table["analyte"] == analyte)]
        for table in (site.table("discharge"), site.table("discharge_cell"))
    )
    if rows.empty or cells.empty:
        raise DataError(
            "discharge",
            f"no mass discharge of '{analyte}' through section '{section}'",
            "a row of the table discharge",
            "Draw a section across the flow, and look at the findings for why it has none.",
        )
    start = sheet_starts(site)[section]
    with theme.sheet(theme.paper_landscape()) as figure:
        draw_discharge(figure, records_of(rows)[0], cells, start_m=start, site=site)
        return theme.save(figure, path, formats)


def draw_discharge(
    figure: Figure, row: dict[str, Any], cells: pd.DataFrame, *, start_m: float, site: Site
) -> None:
    """Put the flux of a section on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty sheet, across.
    row : dict
        Of the table discharge.
    cells : DataFrame
        Its rows of the table discharge_cell.
    start_m : float [m]
        Where the section begins on the section sheet.
    site : Site
        Gives the name of the vertical datum.
    """
    width = bands_of(cells)
    colours = theme.band_colours(width, "flux")
    plane = figure.add_axes(PLANE)
    shown = _cells(plane, cells, start_m, width, colours)
    strongest = _name_strongest(plane, cells, start_m)
    step = _bars(figure.add_axes(BARS, sharex=plane), row, cells)
    legend(
        figure,
        "Median mass flux",
        [
            Entry("box", people.translated(f"mass discharge per\n{step:g} m of the section"), BAR),
            *(Entry("marker", text, {**NAME, "marker": f"${k}$"}) for k, text in strongest),
        ],
        bandwidth=width,
        colours=colours,
        shown=shown,
    )
    _words(figure, row, site)


def bands_of(cells: pd.DataFrame) -> Bandwidth:
    """Bands of the flux over the decades that matter.

    Parameters
    ----------
    cells : DataFrame
        Rows of the table discharge_cell.

    Returns
    -------
    Bandwidth
        Levels 1, 3, 10, ... from a thousandth of the largest flux on [g/m2/d].
    """
    levels = flux_levels(float(cells["flux_g_per_m2_per_day"].max()))
    return Bandwidth("median", "g/m2/d", tuple(levels), True)


def _cells(
    axes: Axes, cells: pd.DataFrame, start_m: float, width: Bandwidth, colours: list[str]
) -> set[int]:
    """Cells in their colours; returns the bands that occur."""
    flux = cells["flux_g_per_m2_per_day"].to_numpy(dtype=np.float64)
    band = np.searchsorted(np.array(width.levels), flux, side="left")
    parts = [
        (np.asarray(part.exterior.coords) - [start_m, 0.0], colours[k])
        for shape, k in zip(cells.geometry, band, strict=True)
        for part in shape.geoms
    ]
    outlines, faces = zip(*parts, strict=True)
    axes.add_collection(
        PolyCollection(outlines, facecolors=faces, edgecolors=theme.PAPER, linewidths=0.3)
    )
    axes.autoscale_view()
    axes.set_xlabel("Distance along the section [m]")
    axes.set_ylabel("Elevation [m]")
    people.length_axis(axes.xaxis)
    people.length_axis(axes.yaxis)
    axes.spines[["top", "right"]].set_visible(False)
    return {int(k) for k in band}


def _name_strongest(axes: Axes, cells: pd.DataFrame, start_m: float) -> list[tuple[int, str]]:
    """Numbers on the cells through which most passes for their area, and what each carries."""
    found = []
    strongest = cells.sort_values("flux_g_per_m2_per_day", ascending=False).head(NAMED)
    for number, cell in enumerate(records_of(strongest), start=1):
        middle = cell["geometry"].centroid
        axes.plot([middle.x - start_m], [middle.y], **NAME, marker=f"${number}$", zorder=5)
        flux = float(cell["flux_g_per_m2_per_day"])
        text = f"{flux:.2g} g/m²/d at {middle.x - start_m:.0f} m,\nelevation {middle.y:.1f} m"
        found.append((number, people.translated(text)))
    return found


def per_stretch(
    row: dict[str, Any], cells: pd.DataFrame
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mass discharge through stretches of the section of a round length.

    Parameters
    ----------
    row : dict
        Of the table discharge.
    cells : DataFrame
        Its rows of the table discharge_cell.

    Returns
    -------
    Array, shape (n + 1,) [m]
        Ends of the stretches, distance along the section.
    Array, shape (n,) [g/d]
        What passes each; the sum is the mass discharge of the section.
    """
    columns = cells.groupby("distance_m", sort=True)["cumulative_share"].max()
    middles, passed = columns.index.to_numpy(np.float64), columns.to_numpy(np.float64)
    half = float(np.diff(middles).min(initial=np.inf)) / 2
    half = half if np.isfinite(half) else 0.5
    ends = np.array([middles[0] - half, *(middles + half)])
    step = nice_step(float(ends[-1] - ends[0]), STRETCHES)
    first, last = np.floor(ends[0] / step), np.ceil(ends[-1] / step - 1e-9)
    edges = step * np.arange(first, last + 1)
    share = np.interp(edges, ends, [0.0, *passed])
    return edges, float(row["discharge_g_per_day"]) * np.diff(share)


def _bars(axes: Axes, row: dict[str, Any], cells: pd.DataFrame) -> float:
    """A bar per stretch, hanging below the plane that it passes; returns the length [m]."""
    edges, grams = per_stretch(row, cells)
    axes.bar(edges[:-1], grams, width=np.diff(edges), align="edge", **BAR)
    axes.set_ylim(max(float(grams.max()), 1e-30) * 1.1, 0.0)
    axes.set_ylabel("Discharge [g/d]")
    axes.tick_params(labelbottom=False, labeltop=False, bottom=False)
    axes.grid(axis="y", color=theme.FAINT, linewidth=0.5)
    axes.set_axisbelow(True)
    axes.spines[["bottom", "right"]].set_visible(False)
    return float(edges[1] - edges[0])


def _words(figure: Figure, row: dict[str, Any], site: Site) -> None:
    """Heading with the amount and its ranges; notes and caution."""
    amount, low, high, least, most = (
        f"{row[f'discharge_{part}g_per_day']:.2g}"
        for part in ("", "low_", "high_", "least_", "most_")
    )
    theme.title(
        figure,
        f"Section {row['section']}: {amount} g of {row['analyte']} passes a day",
        f"10 to 90 %: {low} to {high} g/d; allowing for what a mean gradient gets wrong: {least} "
        f"to {most} g/d" + (f"; round {row['round']}" if row["round"] else ""),
    )
    notes = [
        f"Heights are not to the scale of lengths. Elevation in {people.now().unit('m')}, "
        f"{site.vertical_datum}. The "
        "cells are those of the drawn plane.",
        f"{row['notes'][:1].upper()}{row['notes'][1:]}.",
    ]
    theme.foot(figure, notes, document=document_of(site))
