"""What a map sheet shows, as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geoprofile.drawing.levels import EXTENT_PROBABILITIES, Bandwidth
from geoprofile.engine import settings_used
from geoprofile.errors import DataError
from geoprofile.geometry.contours import above
from geoprofile.geometry.grids import grid_over
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.maps.blanks import Blank, Limits, blanked
from geoprofile.products.maps.confidence import edge_inside
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import (
    ASSUMED_FROM,
    FEWEST_BOREHOLES,
    PROBABILITY_BANDWIDTH,
    MappedField,
    band_rows,
    bandwidth_of,
    boreholes_with_data,
    chosen_elevations,
    latest_fields,
)
from geoprofile.products.maps.measured import results_of
from geoprofile.products.maps.places import Place, Wanted, places_of
from geoprofile.products.units.inputs import unit_surfaces

if TYPE_CHECKING:
    from shapely import MultiPolygon
    from shapely.geometry.base import BaseGeometry

    from geoprofile.geometry.grids import Grid
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]

NEAR_SHARE = 0.5  # of the distance between map elevations: intervals shown with their values


@dataclass(frozen=True, eq=False)
class MapDrawing:
    """All that a site map shows, as numbers; x, y and elevations in [m].

    `place` says in words where the map lies. `bands` are rows with bounds [unit of the bandwidth]
    and shapes; `edges` are the extents above the criterion by probability; `values` are intervals
    `near` the map, which says how near: x, y, row; `domain` is what is mapped and `spread` its x, y
    and standard deviation of log10 [-]; `assumed` is where the data do not hold the shape, and
    `outer` the line that holds the whole plume, at any depth, with a `confidence` [-].
    """

    quantity: str
    round: str | None
    unit: str
    place: str
    near: str
    bandwidth: Bandwidth
    bands: tuple[dict[str, Any], ...]
    edges: dict[float, MultiPolygon]
    criterion: float | None
    values: tuple[tuple[float, float, dict[str, Any]], ...]
    domain: MultiPolygon
    blanks: tuple[Blank, ...]
    spread: tuple[Array, Array, Array]
    uncertain_sd: float
    assumed: MultiPolygon | None = None
    outer: BaseGeometry | None = None
    confidence: float = 0.0


def map_drawing(
    site: Site,
    quantity: str,
    *,
    elevation_m: float | None = None,
    depth_m: float | None = None,
    hydro_unit: str | None = None,
    statistic: str = "median",
) -> MapDrawing:
    """The numbers of a site map, at one elevation, at one depth or in one unit.

    Parameters
    ----------
    site : Site
        Tables as for the layer `map_band`.
    quantity : str
        K, or an analyte.
    elevation_m : float, optional [m]
        Of the map; the one of the map layer that lies nearest to the highest value when nothing is
        said.
    depth_m : float, optional [m]
        Below ground, instead.
    hydro_unit : str, optional
        At half the height of this unit, instead.
    statistic : str
        median or probability.

    Returns
    -------
    MapDrawing
        Shapes [m] and bounds [unit of the drawing].

    Raises
    ------
    DataError
        No such field, no criterion for a probability, or a place with nothing to map.
    """
    field = _field(site, quantity)
    used = settings_used(site, "map_band")
    elevations = chosen_elevations(site, used["elevations_m"])
    rows = results_of(site, quantity)
    domain = domain_of(site)
    grid = grid_over(domain)
    if depth_m is not None:
        wanted = Wanted(depths_m=[depth_m])
    elif hydro_unit is not None:
        wanted = _in_unit(site, hydro_unit)
    elif elevation_m is not None:
        wanted = Wanted([elevation_m])
    else:
        wanted = _best_place(site, quantity, rows, elevations)
    whole = _only(places_of(site, grid, domain, quantity=quantity, wanted=wanted), wanted)
    points = np.column_stack([grid.nodes, whole.z])
    at = field.at(points)
    place, blanks = blanked(
        site,
        field,
        grid,
        place=whole,
        domain=domain,
        limits=Limits(*(float(used[n]) for n in ("farthest_m", "most_sd", "thinnest_m"))),
        spread=at.log10_sd,
    )
    under = _only([place], wanted).domain
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
        # where values are too uncertain for a colour the chance of exceeding still has an edge
        ground = blanked(site, field, grid, place=whole, domain=domain, limits=Limits())[0].domain
        found = {p: above(grid.x, grid.y, chance, p, ground) for p in EXTENT_PROBABILITIES}
        edges = {p: shape for p, shape in found.items() if not shape.is_empty}
    reach = NEAR_SHARE * _spacing(elevations)
    return MapDrawing(
        quantity,
        field.round,
        field.unit,
        place.title,
        _near_words(place, reach),
        width,
        tuple(band_rows(grid.x, grid.y, shown, width=width, domain=under)),
        edges,
        field.criterion,
        tuple(_near(site, rows, grid, place, reach)),
        under,
        tuple(blanks),
        (grid.x, grid.y, grid.spread(at.log10_sd)),
        float(settings_used(site, "section")["uncertain_sd"]),
        above(grid.x, grid.y, grid.spread(field.assumed(points)), ASSUMED_FROM, under),
        *_outer(site, field, domain),
    )


def _outer(
    site: Site, field: MappedField, domain: MultiPolygon
) -> tuple[BaseGeometry | None, float]:
    """The outer line of the plume without its ends at the border, and its confidence."""
    rows = site.table("plume_line")
    rows = rows[(rows["analyte"] == field.quantity) & (rows["line"] == "outer")]
    rows = rows[rows["round"] == field.round]
    if rows.empty:
        return None, 0.0
    row = rows.iloc[0]
    return edge_inside(row["geometry"], domain), float(row["confidence"])


def _field(site: Site, quantity: str) -> MappedField:
    """The field of that quantity."""
    fields = latest_fields(site, every=True)
    for field in fields:
        if field.quantity != quantity:
            continue
        if field.limits_only:
            raise DataError(
                "map",
                f"a field of '{quantity}' that predicts held-out boreholes no better than one "
                "level for all places",
                "one that predicts them better",
                "Look at the measured intervals instead: a section or a profile shows them.",
            )
        count = boreholes_with_data(field)
        if count is not None and count < FEWEST_BOREHOLES:
            raise DataError(
                "map",
                f"'{quantity}' in {count} borehole(s)",
                f"data in at least {FEWEST_BOREHOLES}",
                "Look at the measured intervals instead: a section or a profile shows them.",
            )
        return field
    known = ", ".join(f.quantity for f in fields) or "none yet"
    raise DataError("map", f"'{quantity}'", f"one of {known}", "Interpolate it first.")


def _spacing(elevations: Sequence[float]) -> float:
    """Distance between map elevations [m]."""
    return float(np.min(np.abs(np.diff(elevations)))) if len(elevations) > 1 else 2.0


def _best_place(
    site: Site, quantity: str, rows: Sequence[dict[str, Any]], elevations: list[float]
) -> Wanted:
    """The place of the map layer nearest to the highest value, among those really mapped.

    A level above the ground, or for concentrations above the water, has no bands: the highest
    value may well lie next to one.
    """
    bands = site.table("map_band")
    bands = bands[bands["quantity"] == quantity]
    mapped = [float(z) for z in bands["elevation_m"].dropna().unique()]
    if mapped:
        return Wanted([_nearest_highest(site, rows, mapped)])
    if depths := [float(d) for d in bands["depth_m"].dropna().unique()]:
        return Wanted(depths_m=depths[:1])
    if units := [str(u) for u in bands["hydro_unit"].dropna().unique()]:
        return _in_unit(site, units[0])
    return Wanted([_nearest_highest(site, rows, elevations)])


def _in_unit(site: Site, unit: str) -> Wanted:
    thinnest = float(settings_used(site, "map_band")["thinnest_m"])
    return Wanted(units=[unit], thinnest_m=thinnest)


def _nearest_highest(site: Site, rows: Sequence[dict[str, Any]], elevations: list[float]) -> float:
    """The elevation nearest to the highest value, the middle one where there is none."""
    lines = interval_lines(site)
    hits = [r for r in rows if r["value"] is not None]
    if not hits:
        return sorted(elevations)[len(elevations) // 2]
    top = max(hits, key=lambda r: float(r["value"]))
    z = float(lines[top["interval"]][[0, -1], 2].mean())
    return min(elevations, key=lambda e: abs(e - z))


def _near_words(place: Place, reach: float) -> str:
    """How near the values shown lie."""
    if place.columns["surface"] == "unit":
        return "measured in this unit"
    return f"measured within {reach:g} m\nof this {place.columns['surface']}"


def _near(
    site: Site, rows: Sequence[dict[str, Any]], grid: Grid, place: Place, reach: float
) -> list[tuple[float, float, dict[str, Any]]]:
    """Of each borehole the interval nearest to the map, within reach of it or in its unit."""
    lines = interval_lines(site)
    nodes = cKDTree(grid.nodes)
    surfaces = unit_surfaces(site)
    unit = place.columns.get("hydro_unit")
    best: dict[str, tuple[float, float, float, dict[str, Any]]] = {}
    for row in rows:
        line = lines[row["interval"]]
        middle = line[[0, -1]].mean(axis=0)
        z = float(place.z[nodes.query(middle[:2])[1]])
        gap = max(z - float(line[0, 2]), float(line[-1, 2]) - z, 0.0)
        if unit is None or surfaces is None:
            shown = gap <= reach
        else:
            shown = surfaces.names[int(surfaces.number(middle[None])[0])] == unit
        if shown and gap < best.get(row["borehole"], (np.inf,))[0]:
            best[row["borehole"]] = (gap, float(middle[0]), float(middle[1]), row)
    return [(x, y, row) for _, x, y, row in best.values()]


def _only(places: Sequence[Place], wanted: Wanted) -> Place:
    """The one place asked for, if there is anything to map."""
    if places and not places[0].domain.is_empty:
        return places[0]
    found = places[0].title if places else f"unit '{wanted.units[0]}'"
    raise DataError(
        "map",
        found,
        "a place below ground (for concentrations, below the water level), in a unit that is met",
        "Choose another elevation, depth or unit.",
    )
