"""Where a criterion is exceeded with a given probability, and how much ground that is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.layers._rows import finding, frame
from geoprofile.maps.columns import (
    DEPTH_CELLS,
    Column,
    column_of,
    expected_volume,
    simulated,
    top_and_base,
    volume_range,
)
from geoprofile.maps.contours import above
from geoprofile.maps.grids import Grid, domain_of, grid_over
from geoprofile.maps.levels import EXTENT_PROBABILITIES
from geoprofile.maps.mapping import Array, MappedField, chosen_elevations, domains_at, latest_fields
from geoprofile.plugs import Layer, Progress, Setting

if TYPE_CHECKING:
    import pandas as pd
    from shapely import MultiPolygon

    from geoprofile.site import Site

SIMULATED_CELLS, SIMULATED_LAYERS = 500, 16  # the range of a volume needs no finer boxes


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Extents of every analyte that has a criterion, in its latest round.

    Parameters
    ----------
    site : Site
        Tables field, borehole, survey, interval, concentration, criterion, head and area.
    settings : Mapping
        `elevations_m` [m], `cell_m` [m], `any_depth`, `realisations` [-], `seed` [-].
    progress : Progress
        Told after every analyte.

    Returns
    -------
    Mapping
        Table `plume_extent`, shapes in map coordinates; findings on analytes without an extent.

    Notes
    -----
    'Any depth' with `any_depth` highest is the highest probability among the layers between the
    water level (ground, where no head is known) and the bottoms of the holes: a lower bound, since
    each layer has a chance of its own. With `any_depth` joint it is not less than the share of
    simulated fields that exceed the criterion somewhere in that column, which in ill-known ground
    reaches far beyond any single layer. The expected volume is the sum of probability times
    volume; its range holds 80 % of the simulated volumes.
    """
    fields = [f for f in latest_fields(site) if f.quantity != "K"]
    used = [f for f in fields if f.criterion is not None]
    findings = [_no_criterion(f.quantity) for f in fields if f.criterion is None]
    rows: list[dict[str, Any]] = []
    if used:
        domain = domain_of(site)
        grid = grid_over(domain, cell_m=float(settings["cell_m"]))
        elevations = chosen_elevations(site, settings["elevations_m"])
        boxes = (
            column_of(site, domain),
            column_of(site, domain, cells=SIMULATED_CELLS, layers=SIMULATED_LAYERS),
        )
        for done, field in enumerate(used):
            rows += _elevation_rows(site, field, grid, domain=domain, elevations=elevations)
            highest, sizes = _anywhere(site, field, grid, boxes=boxes, settings=settings)
            rows += [
                {**row, **sizes, "surface": "any depth", "elevation_m": None}
                for row in _extent_rows(field, grid, grid.spread(highest), domain)
            ]
            progress(done + 1, len(used))
    return {
        "plume_extent": frame("plume_extent", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _anywhere(
    site: Site,
    field: MappedField,
    grid: Grid,
    *,
    boxes: tuple[Column, Column],
    settings: Mapping[str, Any],
) -> tuple[Array, dict[str, float | None]]:
    """Probability at any depth of every node, and the volume with its range."""
    fine, coarse = boxes
    rng = np.random.default_rng(int(settings["seed"]))
    drawn = simulated(field, coarse, realisations=int(settings["realisations"]), rng=rng)
    expected = expected_volume(field, fine)
    low, high = volume_range(expected, coarse, drawn)
    highest = _highest(site, field, grid)
    if drawn is not None and settings["any_depth"] == "joint":
        highest = np.maximum(highest, _joint(coarse, drawn, grid.nodes))
    return highest, {"volume_m3": expected, "volume_low_m3": low, "volume_high_m3": high}


def _elevation_rows(
    site: Site, field: MappedField, grid: Grid, *, domain: MultiPolygon, elevations: list[float]
) -> list[dict[str, Any]]:
    """Extents at each elevation."""
    rows = []
    under = domains_at(site, grid, domain, quantity=field.quantity, elevations=elevations)
    for z, part in under.items():
        points = np.column_stack([grid.nodes, np.full(len(grid.nodes), z)])
        values = grid.spread(field.exceedance(points))
        rows += [
            {**row, "surface": "elevation", "elevation_m": z}
            for row in _extent_rows(field, grid, values, part)
        ]
    return rows


def _highest(site: Site, field: MappedField, grid: Grid) -> Array:
    """Highest probability over depth at every node, between water level and bottoms of holes."""
    top, base = top_and_base(site, grid.nodes)
    highest = np.zeros(len(grid.nodes))
    for share in np.linspace(0.02, 0.98, DEPTH_CELLS):
        points = np.column_stack([grid.nodes, base + share * (top - base)])
        np.maximum(highest, field.exceedance(points), out=highest)
    return highest


def _joint(column: Column, drawn: NDArray[np.bool_], xy: Array) -> Array:
    """Share of simulated fields that exceed somewhere in the column below map points."""
    from scipy.interpolate import RegularGridInterpolator

    anywhere = np.mean(np.any(drawn & (column.wet > 0), axis=2), axis=0)
    grid = np.nan_to_num(column.grid.spread(anywhere), nan=0.0)
    between = RegularGridInterpolator(
        (column.grid.y, column.grid.x), grid, bounds_error=False, fill_value=0.0
    )
    return np.asarray(between(xy[:, ::-1]), dtype=np.float64)


def _extent_rows(
    field: MappedField, grid: Grid, values: Array, domain: MultiPolygon
) -> list[dict[str, Any]]:
    """Nested extents of one map of probability; an empty extent makes no row."""
    rows = []
    for probability in EXTENT_PROBABILITIES:
        shape = above(grid.x, grid.y, values, probability, domain)
        if shape.is_empty:
            continue
        rows.append(
            {
                "analyte": field.quantity,
                "round": field.round,
                "criterion_ug_per_l": field.criterion,
                "probability": probability,
                "area_m2": shape.area,
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


PLUG = Layer(
    name="plume_extent",
    summary="where a criterion is exceeded with 10, 50 and 90 % probability, with volumes",
    reads=(
        "field",
        "concentration",
        "interval_conductivity",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "area",
    ),
    writes=("plume_extent",),
    compute=compute,
    settings=(
        Setting(
            "elevations_m", [], "m", "Elevations of the maps; none: round ones over the intervals"
        ),
        Setting("cell_m", 0.0, "m", "Width of a grid cell; 0: from the extent", low=0),
        Setting(
            "any_depth",
            "highest",
            "",
            "Chance at any depth: highest of a layer, or joint over simulated fields",
            allowed=("highest", "joint"),
        ),
        Setting("realisations", 100, "1", "Simulated fields for the range of volumes", low=0),
        Setting("seed", 1, "1", "Seed of the simulated fields", low=0),
    ),
)
