"""Mass discharge of every analyte through every section that lies across the flow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.layers._rows import finding, frame
from geoprofile.maps.mapping import MappedField, latest_fields
from geoprofile.maps.massflux import mass_discharge, share_across
from geoprofile.maps.section_lines import line_names
from geoprofile.maps.sections import Section, section_of
from geoprofile.plugs import Layer, Progress, Setting

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
COLUMNS, ROWS = 60, 30
LEAST_SHARE = 0.5  # [-] sine of the angle between line and flow: 30 degrees
NOTE = (
    "statistical range only; one mean gradient for the whole section, K and concentration taken as "
    "independent: real discharge may differ by a factor of 2 or more, more often lower"
)


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of a section below the water: `points` (n, 3), `area` (n,) [m2], `azimuth` (n,)."""

    points: Array
    area: Array
    azimuth: Array


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Discharge of every analyte in its latest round, from simulated fields of K and of C.

    Parameters
    ----------
    site : Site
        Tables section_line, field, flow, borehole, survey, interval, interval_conductivity,
        concentration, head and area.
    settings : Mapping
        `realisations` [-], `seed` [-].
    progress : Progress
        Told after every section.

    Returns
    -------
    Mapping
        Table `discharge` [g/d]: median, 10 and 90 %; findings on sections that carry none.

    Notes
    -----
    Each realisation draws K, concentration, gradient and direction of flow. The sum runs over the
    plane between the water level and the bottoms of the holes, inside the site area. Non-detects
    count as the field has them, below their limit.
    """
    fields = {f.quantity: f for f in latest_fields(site)}
    rows: list[dict[str, Any]] = []
    findings: list[dict[str, str]] = []
    names = line_names(site) if "K" in fields and len(fields) > 1 else []
    if names and site.table("flow").empty:
        findings.append(_no_flow())
        names = []
    for done, name in enumerate(names):
        rng = np.random.default_rng([int(settings["seed"]), done])
        made, found = _through(
            site, name, fields, realisations=int(settings["realisations"]), rng=rng
        )
        rows += made
        findings += found
        progress(done + 1, len(names))
    return {
        "discharge": frame("discharge", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _through(
    site: Site,
    name: str,
    fields: Mapping[str, MappedField],
    *,
    realisations: int,
    rng: np.random.Generator,
) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    """Rows of one section, or why it has none."""
    try:
        section = section_of(site, name)
    except DataError:
        return [], []  # the layer of sections says what is wrong with the line
    cells = cells_of(section)
    if not len(cells.area):
        return [], []
    gradient = _gradients(site, cells, realisations, rng)
    if gradient is None:
        return [], [_along_the_flow(name)]
    drawn = {
        quantity: field.simulate(cells.points, realisations=realisations, rng=rng)
        for quantity, field in fields.items()
    }
    rows = []
    for analyte, field in fields.items():
        if analyte != "K":
            mass = mass_discharge(drawn["K"], drawn[analyte], cells.area, gradient=gradient)
            rows.append(_row(section, analyte, field.round, np.abs(mass)))
    return rows, []


def cells_of(section: Section) -> Cells:
    """The part of a section below the water level as cells.

    Parameters
    ----------
    section : Section
        Gives plane and water level.

    Returns
    -------
    Cells
        Middles [m], areas [m2] and azimuths of the line [deg]; none where the section is dry.
    """
    import shapely

    none = Cells(np.empty((0, 3)), np.empty(0), np.empty(0))
    if section.wet.is_empty:
        return none
    west, low, east, high = section.wet.bounds
    s, z = np.linspace(west, east, COLUMNS + 1), np.linspace(low, high, ROWS + 1)
    left, bottom = (a.ravel() for a in np.meshgrid(s[:-1], z[:-1]))
    boxes = shapely.box(left, bottom, left + s[1] - s[0], bottom + z[1] - z[0])
    area = shapely.area(shapely.intersection(boxes, section.wet))
    kept = area > 0
    distance = left[kept] + (s[1] - s[0]) / 2
    points = section.plane.to_map(distance, bottom[kept] + (z[1] - z[0]) / 2)
    bends = section.plane.bends
    piece = np.clip(np.searchsorted(bends, distance, side="right") - 1, 0, len(bends) - 2)
    return Cells(points, area[kept], section.plane.azimuths[piece])


def _gradients(
    site: Site, cells: Cells, realisations: int, rng: np.random.Generator
) -> Array | None:
    """Gradient across every cell in every realisation; None where the line follows the flow."""
    flow = site.table("flow").iloc[0]
    azimuth, gradient = float(flow["azimuth_deg"]), float(flow["gradient"])
    share = share_across(cells.azimuth, azimuth)
    if abs(float(np.average(share, weights=cells.area))) < LEAST_SHARE:
        return None
    turn, spread = (np.nan_to_num(float(flow[c])) for c in ("azimuth_sd_deg", "gradient_sd"))
    drawn = gradient + spread * rng.standard_normal((realisations, 1))
    way = azimuth + turn * rng.standard_normal((realisations, 1))
    return np.asarray(np.maximum(drawn, 0.0) * share_across(cells.azimuth, way))


def _row(section: Section, analyte: str, round_name: str | None, drawn: Array) -> dict[str, Any]:
    """One row with the line at the middle of the wet plane."""
    import shapely

    low, median, high = np.quantile(drawn, [0.1, 0.5, 0.9])
    bounds = section.wet.bounds
    bends = section.plane.bends
    line = section.plane.to_map(bends, np.full(len(bends), (bounds[1] + bounds[3]) / 2))
    return {
        "section": section.name,
        "analyte": analyte,
        "round": round_name,
        "discharge_g_per_day": float(median),
        "discharge_low_g_per_day": float(low),
        "discharge_high_g_per_day": float(high),
        "notes": NOTE,
        "geometry": shapely.LineString(line),
    }


def _no_flow() -> dict[str, str]:
    return finding(
        "flow",
        "",
        "no direction of flow: no mass discharge",
        what_to_do="Measure static heads in at least three boreholes that do not lie on one line.",
        severity="note",
    )


def _along_the_flow(name: str) -> dict[str, str]:
    return finding(
        "section_line",
        name,
        "the section runs within 30 degrees of the flow: no mass discharge through it",
        what_to_do="Draw a section across the flow to learn the mass discharge.",
        severity="note",
    )


PLUG = Layer(
    name="discharge",
    summary="mass discharge through the sections that lie across the flow",
    reads=(
        "section_line",
        "field",
        "flow",
        "borehole",
        "survey",
        "interval",
        "interval_conductivity",
        "concentration",
        "criterion",
        "head",
        "area",
    ),
    writes=("discharge",),
    compute=compute,
    settings=(
        Setting("realisations", 200, "1", "Simulated fields", low=20),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
    ),
)
