"""Where the mass discharge passes a section: flux per area, and its sum along the line."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from geoprofile.drawing import theme
from geoprofile.drawing.legend import Entry, legend
from geoprofile.drawing.levels import Bandwidth, flux_levels
from geoprofile.errors import DataError
from geoprofile.products.section.lines import sheet_starts
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

PLANE, SUM = (0.09, 0.25, 0.66, 0.38), (0.09, 0.68, 0.66, 0.18)  # boxes on the sheet [-]
TOTAL: dict[str, Any] = {"color": theme.EDGE, "linewidth": 1.8}


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
    with theme.sheet(theme.LANDSCAPE_IN) as figure:
        draw_discharge(figure, records_of(rows)[0], cells, start_m=start, site=site)
        return theme.save(figure, path, formats)


def draw_discharge(
    figure: Figure, row: dict[str, Any], cells: pd.DataFrame, *, start_m: float, site: Site
) -> None:
    """Put the flux of a section on a sheet.

    Parameters
    ----------
    figure : Figure
        An empty A4 sheet, landscape.
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
    _sum(figure.add_axes(SUM, sharex=plane), cells)
    legend(
        figure,
        "Median mass flux",
        [Entry("line", "share passed\nsince the start", TOTAL)],
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
    axes.spines[["top", "right"]].set_visible(False)
    return {int(k) for k in band}


def _sum(axes: Axes, cells: pd.DataFrame) -> None:
    """Share of the discharge that has passed, along the line."""
    columns = cells.groupby("distance_m", sort=True)["cumulative_share"].max()
    half = np.diff(columns.index.to_numpy()).min(initial=np.inf) / 2
    ends = columns.index.to_numpy() + (half if np.isfinite(half) else 0.0)
    start = 2 * columns.index[0] - ends[0]
    axes.plot([start, *ends], [0.0, *100 * columns.to_numpy()], **TOTAL)
    axes.set_ylim(0, 105)
    axes.set_ylabel("Passed [%]")
    axes.tick_params(labelbottom=False)
    axes.grid(axis="y", color=theme.FAINT, linewidth=0.5)
    axes.spines[["top", "right"]].set_visible(False)


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
        f"Heights are not to the scale of lengths. Elevation in m, {site.vertical_datum}. The "
        "cells are those of the drawn plane.",
        f"{row['notes'][:1].upper()}{row['notes'][1:]}.",
    ]
    theme.foot(figure, notes)
