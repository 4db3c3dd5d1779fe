"""Where a criterion is exceeded with a given probability, and how much ground that is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import EXTENT_PROBABILITIES
from geoprofile.engine.rows import finding, frame
from geoprofile.geometry.edges import COARSE_CELLS, Chances, traced
from geoprofile.geometry.grids import Grid, grid_over
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.maps.blanks import Limits, blanked
from geoprofile.products.maps.columns import Column, column_of
from geoprofile.products.maps.confidence import (
    calmed,
    closing_place,
    confident_chances,
    open_border_m,
    without_holes,
)
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import MappedField, chosen_elevations, chosen_fields
from geoprofile.products.maps.places import Wanted, places_of
from geoprofile.products.maps.rows import spanning
from geoprofile.products.model.fitted import lasting_name
from geoprofile.products.plume.extents import (
    Measured,
    at_elevation,
    chance_at,
    likeliest_layer,
    plume_body,
    smooth_chances,
)
from geoprofile.products.plume.porosity import porosity_at
from geoprofile.products.plume.site_boundary import distance_to_site_boundary, flow_azimuth
from geoprofile.remembered import of_records, remembered

if TYPE_CHECKING:
    import pandas as pd
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
# all that the boxes and the field are asked with
MEASURED = of_records("plume", (Measured,), "kriging", "products", "geometry")


@dataclass(frozen=True, eq=False)
class Ground:
    """What the extents of all fields share: area, coarse grid, boxes below, elevations [m].

    `porosity` (n, nz) [-] is that of the boxes, 0 where it is not known; `azimuth_deg` is the
    direction of flow, None where there is none or no site area.
    """

    domain: MultiPolygon
    grid: Grid
    column: Column
    porosity: Array
    elevations: tuple[float, ...]
    azimuth_deg: float | None


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Extents of every analyte that has a criterion.

    Returns
    -------
    Mapping
        Tables `plume_extent` and `plume_line`, shapes in map coordinates; findings on analytes
        without an extent.

    Notes
    -----
    'Any depth' runs from the water level (ground, where no head is known) to the bottoms of the
    holes. With `any_depth` joint its probability is the share of simulated fields that exceed the
    criterion somewhere in that column; with highest it is that of the likeliest layer: a lower
    bound, since each layer has a chance of its own. The expected volume is the sum of probability
    times volume; its range holds 80 % of the simulated volumes.
    """
    fields = [f for f in chosen_fields(site, str(settings["rounds"])) if f.quantity != "K"]
    used, findings = spanning([f for f in fields if f.criterion is not None], "plume_extent")
    missing = dict.fromkeys(f.quantity for f in fields if f.criterion is None)
    rows: list[dict[str, Any]] = []
    lines: list[dict[str, Any]] = []
    if used:
        ground = _ground(site, settings)
        for done, field in enumerate(used):
            rows += _elevation_rows(site, field, ground)
            made, bounds = _any_depth_rows(site, field, ground, settings)
            rows += made
            lines += bounds
            progress(done + 1, len(used))
    return {
        "plume_extent": frame("plume_extent", rows, site.crs),
        "plume_line": frame("plume_line", lines, site.crs),
        "finding": frame("finding", findings + [_no_criterion(n) for n in missing], site.crs),
    }


def _ground(site: Site, settings: Mapping[str, Any]) -> Ground:
    """What all fields share."""
    domain = domain_of(site)
    column = column_of(site, domain)
    porosity = porosity_at(
        site,
        column.points,
        everywhere=float(settings["porosity"]),
        by_unit=settings["unit_porosities"],
    )
    return Ground(
        domain,
        grid_over(domain, cell_m=float(settings["cell_m"]), cells=COARSE_CELLS),
        column,
        porosity.reshape(column.deep.shape),
        tuple(chosen_elevations(site, settings["elevations_m"])),
        flow_azimuth(site),
    )


def _any_depth_rows(
    site: Site, field: MappedField, ground: Ground, settings: Mapping[str, Any]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Extents at any depth, with volume and mass; and lines of confidence."""
    body = _measured(field, ground, int(settings["realisations"]), int(settings["seed"]))
    layer = likeliest_layer(site, field)
    if settings["any_depth"] == "highest":
        chances = traced(ground.grid, layer, EXTENT_PROBABILITIES)
    else:
        chances = smooth_chances(ground.column.grid, body.chance)
    place = {"surface": "any depth", "elevation_m": None, **dict(body.sizes)}
    rows = _extent_rows(field, chances, ground, ground.domain, evaluate=layer)
    lines = _line_rows(site, field, body, ground, float(settings["confidence"]))
    return [{**row, **place} for row in rows], lines


def _measured(field: MappedField, ground: Ground, realisations: int, seed: int) -> Measured:
    """The plume at any depth, as an earlier run has simulated it where it rests on the same."""

    def compute() -> Measured:
        rng = np.random.default_rng(seed)
        body = plume_body(field, ground.column, realisations=realisations, rng=rng)
        return body.measured(ground.porosity)

    name = lasting_name(field)
    if name is None:
        return compute()
    parts = (name, field.criterion, ground.column, ground.porosity, realisations, seed)
    measured: Measured = remembered(parts, compute, MEASURED)
    return measured


def _line_rows(
    site: Site, field: MappedField, body: Measured, ground: Ground, confidence: float
) -> list[dict[str, Any]]:
    """Outer and inner line; none without simulated fields, an empty one makes no row."""
    chance, hits = body.chance, body.hits
    if hits is None:
        return []
    rows = []
    grid, on_map = ground.column.grid, ground.column.inside > 0
    order = calmed(grid, chance)
    area = ground.column.inside[on_map] * grid.cell_m**2
    levels = confident_chances(order[on_map], hits[:, on_map], area, confidence)
    chances = smooth_chances(grid, order)
    for line, level in zip(("outer", "inner"), levels, strict=True):
        # The outer line runs just outside the places that have this very level.
        edge = level * (1.0 - 1e-6) if line == "outer" else level
        shape = without_holes(chances.extent(edge, ground.domain), line == "outer")
        if shape.is_empty:
            continue
        gap = open_border_m(shape, ground.domain)
        rows.append(
            {
                "analyte": field.quantity,
                "round": field.round,
                "criterion_ug_per_l": field.criterion,
                "line": line,
                "confidence": confidence,
                "chance_at_line": level,
                "area_m2": shape.area,
                "closed": gap == 0.0,
                "open_m": gap,
                "notes": _closing(site, shape, ground.domain) if line == "outer" else None,
                "geometry": shape,
            }
        )
    return rows


def _closing(site: Site, shape: MultiPolygon, domain: MultiPolygon) -> str | None:
    """Which borehole would close an open line."""
    spot = closing_place(shape, domain, site.boreholes[["x", "y"]].to_numpy(dtype=float))
    if spot is None:
        return None
    return (
        "open at the border of the map: no data bound the plume there; a borehole near easting "
        f"{spot[0]:.0f}, northing {spot[1]:.0f} would do most to close it"
    )


def _elevation_rows(site: Site, field: MappedField, ground: Ground) -> list[dict[str, Any]]:
    """Extents at each elevation, where there is water and a borehole reaches down."""
    rows = []
    wanted = Wanted(ground.elevations)
    grid, domain = ground.grid, ground.domain
    for whole in places_of(site, grid, domain, quantity=field.quantity, wanted=wanted):
        place, _ = blanked(site, field, grid, place=whole, domain=domain, limits=Limits())
        if place.domain.is_empty:
            continue
        z = float(place.z[0])
        chances = at_elevation(field, grid, z)
        made = _extent_rows(field, chances, ground, place.domain, evaluate=chance_at(field, z))
        rows += [{**row, **place.columns} for row in made]
    return rows


def _extent_rows(
    field: MappedField,
    chances: Chances,
    ground: Ground,
    domain: MultiPolygon,
    *,
    evaluate: Callable[[Array], Array],
) -> list[dict[str, Any]]:
    """Nested extents of one map of probability; an empty extent makes no row."""
    rows = []
    for probability in EXTENT_PROBABILITIES:
        shape = chances.extent(probability, domain)
        if shape.is_empty:
            continue
        rows.append(
            {
                "analyte": field.quantity,
                "round": field.round,
                "criterion_ug_per_l": field.criterion,
                "probability": probability,
                "area_m2": shape.area,
                "distance_to_site_boundary_m": distance_to_site_boundary(
                    shape,
                    ground.domain,
                    ground.azimuth_deg,
                    probability=probability,
                    evaluate=evaluate,
                ),
                "geometry": shape,
            }
        )
    return rows


def _no_criterion(analyte: str) -> dict[str, str]:
    """A finding for an analyte that nothing can be compared with."""
    return finding(
        "criterion",
        analyte,
        f"no criterion for {analyte}: no plume extent and no probability map",
        what_to_do="Add the analyte to the criterion table with its value, unit and basis.",
        severity="note",
    )


PLUGIN = Layer(
    name="plume_extent",
    summary="where a criterion is exceeded with 10, 50 and 90 % probability, with volumes",
    reads=(
        "model",
        "concentration",
        "interval_conductivity",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "flow",
        "area",
        "hydro_unit",
    ),
    writes=("plume_extent", "plume_line"),
    compute=compute,
    settings=(
        Setting(
            "elevations_m", [], "m", "Elevations of the maps; none: round ones over the intervals"
        ),
        Setting(
            "cell_m",
            0.0,
            "m",
            "Width of a grid cell, a quarter of it along the edges; 0: from the extent",
            low=0,
        ),
        Setting("rounds", "latest", "", "Rounds to map", allowed=("latest", "all")),
        Setting(
            "any_depth",
            "joint",
            "",
            "Chance at any depth: joint over simulated fields, or highest of a layer (lower bound)",
            allowed=("joint", "highest"),
        ),
        Setting(
            "porosity",
            0.0,
            "1",
            "Share of the ground that is water, for the dissolved mass; 0: not known, no mass",
            low=0,
            high=0.9,
        ),
        Setting(
            "unit_porosities",
            [],
            "1",
            "Porosity by hydrostratigraphic unit, such as 'sand=0.3'; others take porosity",
        ),
        Setting("realisations", 100, "1", "Simulated fields for any depth and ranges", low=0),
        Setting(
            "confidence",
            0.9,
            "1",
            "That the whole plume lies within the outer line, and all of the inner one in it",
            low=0.5,
            high=0.99,
        ),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
    ),
)
