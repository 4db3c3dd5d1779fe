"""Filled bands of every field at a few elevations: medians and probabilities of exceeding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.errors import UsageError
from geoprofile.layers._rows import finding, frame
from geoprofile.maps.grids import Grid, domain_of, grid_over
from geoprofile.maps.mapping import (
    PROBABILITY_BANDWIDTH,
    Array,
    Bandwidth,
    MappedField,
    band_rows,
    bandwidth_of,
    chosen_elevations,
    domains_at,
    latest_fields,
)
from geoprofile.plugs import Layer, Progress, Setting

if TYPE_CHECKING:
    import pandas as pd
    from shapely import MultiPolygon

    from geoprofile.site import Site


QUANTILES = ("median", "low", "high")
STATISTICS = (*QUANTILES, "spread", "probability")
SPREAD_BANDWIDTH = Bandwidth("spread", "log10", (0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5), False)
FIXED_BANDS = {"probability": PROBABILITY_BANDWIDTH, "spread": SPREAD_BANDWIDTH}


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Maps of every quantity in its latest round.

    Parameters
    ----------
    site : Site
        Tables field, borehole, survey, interval, interval_conductivity, concentration, head
        and area.
    settings : Mapping
        `elevations_m` [m], `cell_m` [m], `statistics`.
    progress : Progress
        Told after every field.

    Returns
    -------
    Mapping
        Table `map_band`, shapes in map coordinates; findings on elevations without a map.

    Notes
    -----
    Bands are cut to the site area, or to a hull round the boreholes, and to where the ground (for
    concentrations the water level) lies above the map's elevation. Contours of K and of
    concentrations follow log10. `low` and `high` are the 10 and 90 % quantiles of the field,
    `spread` is the standard deviation of its log10.
    """
    fields = latest_fields(site)
    if not fields:
        return {
            "map_band": frame("map_band", [], site.crs),
            "finding": frame("finding", [], site.crs),
        }
    statistics = _checked(settings["statistics"])
    elevations = chosen_elevations(site, settings["elevations_m"])
    domain = domain_of(site)
    grid = grid_over(domain, cell_m=float(settings["cell_m"]))
    empty: set[float] = set()
    rows: list[dict[str, Any]] = []
    for done, field in enumerate(fields):
        domains = domains_at(site, grid, domain, quantity=field.quantity, elevations=elevations)
        empty |= {z for z, shape in domains.items() if shape.is_empty}
        rows += field_rows(site, field, grid, domains=domains, statistics=statistics)
        progress(done + 1, len(fields))
    findings = [_in_the_air(z) for z in sorted(empty)]
    return {
        "map_band": frame("map_band", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def field_rows(
    site: Site,
    field: MappedField,
    grid: Grid,
    *,
    domains: Mapping[float, MultiPolygon],
    statistics: Sequence[str],
) -> list[dict[str, Any]]:
    """Bands of one field at every elevation that has a domain.

    Parameters
    ----------
    site : Site
        Gives the reporting limits.
    field : MappedField
        What is mapped.
    grid : Grid
        Nodes [m].
    domains : Mapping of float to MultiPolygon
        What to cover at each elevation [m].
    statistics : sequence of str
        Some of `STATISTICS`.

    Returns
    -------
    list of dict
        Rows of `map_band`; bounds [unit of the row].
    """
    used = [z for z, shape in domains.items() if not shape.is_empty]
    if not used:
        return []
    maps = {z: _values(field, grid, z, statistics) for z in used}
    width = bandwidth_of(site, field.quantity)
    rows: list[dict[str, Any]] = []
    for z, found in maps.items():
        for name, values in found.items():
            shown = FIXED_BANDS.get(name) or replace(width, statistic=name)
            made = band_rows(grid.x, grid.y, grid.spread(values), width=shown, domain=domains[z])
            place = {**_names(field), "surface": "elevation", "elevation_m": z}
            rows += [{**row, **place} for row in made]
    return rows


def _values(
    field: MappedField, grid: Grid, z: float, statistics: Sequence[str]
) -> dict[str, Array]:
    """Each statistic at the nodes; the probability only where the user gave a criterion."""
    points = np.column_stack([grid.nodes, np.full(len(grid.nodes), z)])
    at = field.at(points)
    known = {"median": at.median, "low": at.low, "high": at.high, "spread": at.log10_sd}
    found = {name: known[name] for name in statistics if name in known}
    if "probability" in statistics and field.criterion is not None:
        found["probability"] = field.exceedance(points)
    return found


def _checked(statistics: Sequence[str]) -> list[str]:
    """The statistics asked for, in our order; an unknown one is refused."""
    unknown = [name for name in statistics if name not in STATISTICS]
    if unknown:
        raise UsageError(
            "map_band",
            f"statistic '{unknown[0]}'",
            f"some of {', '.join(STATISTICS)}",
            "Correct statistics under [map_band] in site.toml.",
        )
    return [name for name in STATISTICS if name in statistics]


def _names(field: MappedField) -> dict[str, Any]:
    """Columns that name the field."""
    return {"quantity": field.quantity, "round": field.round}


def _in_the_air(elevation_m: float) -> dict[str, str]:
    """A finding for an elevation that lies above all ground or all water."""
    return finding(
        "map_band",
        f"{elevation_m:g} m",
        f"no map of some quantity at {elevation_m:g} m: ground or water lies below it everywhere",
        what_to_do="Choose lower elevations_m under [map_band] in site.toml.",
        severity="note",
    )


PLUG = Layer(
    name="map_band",
    summary="filled bands of K, concentrations and probabilities at a few elevations",
    reads=(
        "field",
        "interval_conductivity",
        "concentration",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "area",
    ),
    writes=("map_band",),
    compute=compute,
    settings=(
        Setting(
            "elevations_m", [], "m", "Elevations of the maps; none: round ones over the intervals"
        ),
        Setting(
            "statistics",
            ["median", "probability"],
            "",
            "What is mapped: some of median, low (10 %), high (90 %), spread, probability",
        ),
        Setting("cell_m", 0.0, "m", "Width of a grid cell; 0: from the extent", low=0),
    ),
)
