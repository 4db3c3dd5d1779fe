"""Filled bands of every field on maps at elevations, at depths and in units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.drawing.levels import Bandwidth
from geoprofile.engine.rows import finding, frame, known_names
from geoprofile.geometry.contours import above
from geoprofile.geometry.grids import Grid, grid_over
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.maps.blanks import Blank, Limits, blanked
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import (
    ASSUMED_FROM,
    PROBABILITY_BANDWIDTH,
    MappedField,
    Values,
    band_rows,
    bandwidth_of,
    chosen_elevations,
    chosen_fields,
)
from geoprofile.products.maps.places import Place, Wanted, chosen_units, places_of
from geoprofile.products.maps.rows import spanning

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site


QUANTILES = ("median", "low", "high")
STATISTICS = (*QUANTILES, "spread", "probability")
SPREAD_BANDWIDTH = Bandwidth("spread", "log10", (0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5), False)
FIXED_BANDS = {"probability": PROBABILITY_BANDWIDTH, "spread": SPREAD_BANDWIDTH}


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Maps of every quantity, and where they are blank.

    Returns
    -------
    Mapping
        Tables `map_band` and `map_blank`, which together tile the area of each map, in map
        coordinates, and `map_assumed` on top of them; findings on places without a map.

    Notes
    -----
    Bands are cut to the site area, or to a hull round the boreholes, to where the ground (for
    concentrations the water level) lies above the map, to where a mapped unit is thick enough and
    the boreholes reach down, and to the limits of distance and spread.
    Contours of K and of concentrations follow log10. `low` and `high` are the 10 and 90 % quantiles
    of the field, `spread` is the standard deviation of its log10.
    """
    fields, findings = spanning(chosen_fields(site, str(settings["rounds"])), "map_band")
    rows: list[dict[str, Any]] = []
    blanks: list[dict[str, Any]] = []
    assumed: list[dict[str, Any]] = []
    if fields:
        statistics = known_names("map_band.statistics", settings["statistics"], STATISTICS)
        wanted, unknown = _wanted(site, settings)
        domain = domain_of(site)
        grid = grid_over(domain, cell_m=float(settings["cell_m"]))
        limits = Limits(*(float(settings[n]) for n in ("farthest_m", "most_sd", "thinnest_m")))
        nowhere: dict[str, None] = {}
        for done, field in enumerate(fields):
            for whole in places_of(site, grid, domain, quantity=field.quantity, wanted=wanted):
                values = field.at(np.column_stack([grid.nodes, whole.z]))
                place, left = blanked(
                    site,
                    field,
                    grid,
                    place=whole,
                    domain=domain,
                    limits=limits,
                    spread=values.log10_sd,
                )
                blanks += [_blank_row(field, place, blank) for blank in left]
                if place.domain.is_empty:
                    nowhere[place.title] = None
                    continue
                assumed += _assumed_rows(field, grid, place)
                rows += _band_rows(
                    site, field, grid, place=place, values=values, statistics=statistics
                )
            progress(done + 1, len(fields))
        findings += [_nothing_there(title) for title in nowhere] + [_unknown(n) for n in unknown]
    return {
        "map_band": frame("map_band", rows, site.crs),
        "map_blank": frame("map_blank", blanks, site.crs),
        "map_assumed": frame("map_assumed", assumed, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _wanted(site: Site, settings: Mapping[str, Any]) -> tuple[Wanted, list[str]]:
    """The places asked for, and the units that no borehole meets."""
    units, unknown = chosen_units(site, settings["units"])
    wanted = Wanted(
        chosen_elevations(site, settings["elevations_m"]),
        [float(depth) for depth in settings["depths_m"]],
        units,
        float(settings["thinnest_m"]),
    )
    return wanted, unknown


def _blank_row(field: MappedField, place: Place, blank: Blank) -> dict[str, Any]:
    """A row of `map_blank`."""
    return {
        **_names(field),
        **place.columns,
        **blank.columns,
    }


def _assumed_rows(field: MappedField, grid: Grid, place: Place) -> list[dict[str, Any]]:
    """The ground of one map where the data do not hold the shape of the field, if there is any."""
    share = grid.spread(field.assumed(np.column_stack([grid.nodes, place.z])))
    shape = above(grid.x, grid.y, share, ASSUMED_FROM, place.domain)
    if shape.is_empty:
        return []
    return [{**_names(field), **place.columns, "area_m2": shape.area, "geometry": shape}]


def _band_rows(
    site: Site,
    field: MappedField,
    grid: Grid,
    *,
    place: Place,
    values: Values,
    statistics: Sequence[str],
) -> list[dict[str, Any]]:
    """Bands of one field at one place; the probability only where the user gave a criterion."""
    width = bandwidth_of(site, field.quantity)
    known = {
        "median": values.median,
        "low": values.low,
        "high": values.high,
        "spread": values.log10_sd,
    }
    if "probability" in statistics and field.criterion is not None:
        known["probability"] = field.exceedance(np.column_stack([grid.nodes, place.z]))
    rows: list[dict[str, Any]] = []
    for name in (name for name in statistics if name in known):
        shown = FIXED_BANDS.get(name) or replace(width, statistic=name)
        made = band_rows(grid.x, grid.y, grid.spread(known[name]), width=shown, domain=place.domain)
        rows += [{**row, **_names(field), **place.columns} for row in made]
    return rows


def _names(field: MappedField) -> dict[str, Any]:
    """Columns that name the field."""
    return {"quantity": field.quantity, "round": field.round}


def _nothing_there(title: str) -> dict[str, str]:
    """A finding for a map that lies above all ground or all water, or in a unit too thin."""
    return finding(
        "map_band",
        title,
        f"no map of some quantity at {title}: ground or water lies below it everywhere, the "
        "unit is nowhere thick enough, or every part is blank for the reason that map_blank gives",
        what_to_do="Choose other elevations_m, depths_m or units under [map_band] in site.toml.",
        severity="note",
    )


def _unknown(name: str) -> dict[str, str]:
    """A finding for a unit that is not there."""
    return finding(
        "map_band",
        name,
        f"no map of unit '{name}': no borehole meets it, or no units are correlated",
        what_to_do="Name it as in the table hydro_unit, and list the units under [geology] units.",
    )


PLUGIN = Layer(
    name="map_band",
    summary="filled bands of K, concentrations and probabilities at elevations, depths, in units",
    reads=(
        "model",
        "interval_conductivity",
        "concentration",
        "criterion",
        "borehole",
        "survey",
        "interval",
        "head",
        "area",
        "hydro_unit",
    ),
    writes=("map_band", "map_blank", "map_assumed"),
    compute=compute,
    settings=(
        Setting(
            "elevations_m", [], "m", "Elevations of the maps; none: round ones over the intervals"
        ),
        Setting("depths_m", [], "m", "Depths below ground of further maps"),
        Setting(
            "units",
            [],
            "",
            "Hydrostratigraphic units to map at half their height; 'all' for every unit",
        ),
        Setting("thinnest_m", 0.5, "m", "A unit thinner than this is left blank", low=0),
        Setting(
            "statistics",
            ["median", "probability"],
            "",
            "What is mapped: some of median, low (10 %), high (90 %), spread, probability",
        ),
        Setting(
            "most_sd",
            1.0,
            "1",
            "Blank where the standard deviation of log10 is larger: 1 is a factor of ten; 0: no "
            "limit",
            low=0,
        ),
        Setting(
            "farthest_m",
            0.0,
            "m",
            "Blank farther than this from the nearest interval; 0: no limit",
            low=0,
        ),
        Setting("rounds", "latest", "", "Rounds to map", allowed=("latest", "all")),
        Setting("cell_m", 0.0, "m", "Width of a grid cell; 0: from the extent", low=0),
    ),
)
