"""What a map sheet shows, as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.bridges.holes import interval_lines
from geoprofile.errors import DataError
from geoprofile.figures.section_numbers import UNCERTAIN_SD
from geoprofile.maps.contours import above
from geoprofile.maps.grids import domain_of, grid_over
from geoprofile.maps.levels import EXTENT_PROBABILITIES
from geoprofile.maps.mapping import (
    PROBABILITY_BANDWIDTH,
    Bandwidth,
    MappedField,
    band_rows,
    bandwidth_of,
    chosen_elevations,
    domains_at,
    latest_fields,
)
from geoprofile.maps.results import results_of

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]

NEAR_SHARE = 0.5  # of the distance between map elevations: intervals shown with their values


@dataclass(frozen=True, eq=False)
class MapDrawing:
    """All that a site map shows, as numbers; x, y and elevations in [m].

    `bands` are rows with bounds [unit of the bandwidth] and shapes; `edges` are the extents above
    the criterion by probability; `values` are intervals near the elevation: x, y, row;
    `domain` is what is mapped and `spread` its x, y and standard deviation of log10 [-].
    """

    quantity: str
    round: str | None
    unit: str
    elevation_m: float
    reach_m: float
    bandwidth: Bandwidth
    bands: tuple[dict[str, Any], ...]
    edges: dict[float, MultiPolygon]
    criterion: float | None
    values: tuple[tuple[float, float, dict[str, Any]], ...]
    domain: MultiPolygon
    spread: tuple[Array, Array, Array]
    uncertain_sd: float


def map_drawing(
    site: Site, quantity: str, *, elevation_m: float | None = None, statistic: str = "median"
) -> MapDrawing:
    """The numbers of a site map.

    Parameters
    ----------
    site : Site
        Tables as for the layer `map_band`.
    quantity : str
        K, or an analyte.
    elevation_m : float, optional [m]
        Of the map.
    statistic : str
        median or probability.

    Returns
    -------
    MapDrawing
        Shapes [m] and bounds [unit of the drawing].

    Raises
    ------
    DataError
        No such field, no criterion for a probability, or an elevation above all ground.
    """
    field = _field(site, quantity)
    elevations = chosen_elevations(site, site.settings_of("map_band").get("elevations_m", ()))
    rows = results_of(site, quantity)
    z = _best_elevation(site, rows, elevations) if elevation_m is None else float(elevation_m)
    domain = domain_of(site)
    grid = grid_over(domain)
    under = domains_at(site, grid, domain, quantity=quantity, elevations=[z])[z]
    if under.is_empty:
        raise DataError("map", f"elevation {z:g} m", "one below the ground", "Choose a lower one.")
    points = np.column_stack([grid.nodes, np.full(len(grid.nodes), z)])
    at = field.at(points)
    width = bandwidth_of(site, quantity)
    chance = None if field.criterion is None else grid.spread(field.exceedance(points))
    shown = grid.spread(at.median)
    if statistic == "probability":
        if chance is None:
            raise DataError(
                "map", f"no criterion for {quantity}", "one", "Add it to the criterion table."
            )
        width, shown = PROBABILITY_BANDWIDTH, chance
    edges = {}
    if chance is not None:
        found = {p: above(grid.x, grid.y, chance, p, under) for p in EXTENT_PROBABILITIES}
        edges = {p: shape for p, shape in found.items() if not shape.is_empty}
    reach = NEAR_SHARE * _spacing(elevations)
    return MapDrawing(
        quantity,
        field.round,
        field.unit,
        z,
        reach,
        width,
        tuple(band_rows(grid.x, grid.y, shown, width=width, domain=under)),
        edges,
        field.criterion,
        tuple(_near(site, rows, z, reach)),
        under,
        (grid.x, grid.y, grid.spread(at.log10_sd)),
        float(site.settings_of("section").get("uncertain_sd", UNCERTAIN_SD)),
    )


def _field(site: Site, quantity: str) -> MappedField:
    """The field of that quantity."""
    fields = latest_fields(site)
    for field in fields:
        if field.quantity == quantity:
            return field
    known = ", ".join(f.quantity for f in fields) or "none yet"
    raise DataError("map", f"'{quantity}'", f"one of {known}", "Interpolate it first.")


def _spacing(elevations: Sequence[float]) -> float:
    """Distance between map elevations [m]."""
    return float(np.min(np.abs(np.diff(elevations)))) if len(elevations) > 1 else 2.0


def _best_elevation(site: Site, rows: Sequence[dict[str, Any]], elevations: list[float]) -> float:
    """The elevation of the map layer nearest to the highest value."""
    lines = interval_lines(site)
    hits = [r for r in rows if r["value"] is not None]
    if not hits:
        return elevations[len(elevations) // 2]
    top = max(hits, key=lambda r: float(r["value"]))
    z = float(lines[top["interval"]][[0, -1], 2].mean())
    return min(elevations, key=lambda e: abs(e - z))


def _near(
    site: Site, rows: Sequence[dict[str, Any]], z: float, reach: float
) -> list[tuple[float, float, dict[str, Any]]]:
    """Of each borehole the interval whose part nearest to the elevation lies within reach."""
    lines = interval_lines(site)
    best: dict[str, tuple[float, float, float, dict[str, Any]]] = {}
    for row in rows:
        line = lines[row["interval"]]
        top, bottom = float(line[0, 2]), float(line[-1, 2])
        gap = max(z - top, bottom - z, 0.0)
        x, y = line[[0, -1], :2].mean(axis=0)
        if gap <= reach and gap < best.get(row["borehole"], (np.inf,))[0]:
            best[row["borehole"]] = (gap, float(x), float(y), row)
    return [(x, y, row) for _, x, y, row in best.values()]
