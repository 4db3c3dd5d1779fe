"""Soil gas in the plane of a section: between its samples, above the water level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geoprofile.engine import settings_used
from geoprofile.engine.rows import finding
from geoprofile.geometry.contours import above
from geoprofile.products.maps.blanks import distance_to_data
from geoprofile.products.section.sections import Section, part_between
from geoprofile.products.section.slices import GRID_COLUMNS, GRID_ROWS, Slice, grid_in, slice_of
from geoprofile.products.soil_gas.mapping import sampled_span

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.products.soil_gas.fitted import FittedGas
    from geoprofile.site import Site

FEWEST_HOLES = 2  # near the line: with fewer the section runs through no measured gas


def slice_gas(site: Site, section: Section, gas: FittedGas) -> Slice | None:
    """A substance of soil gas in the plane of a section.

    Parameters
    ----------
    site : Site
        Gives ground, water level, area, and the limits of the maps of gas.
    section : Section
        Where.
    gas : FittedGas
        What.

    Returns
    -------
    Slice or None
        Shown from the depth of the shallowest to that of the deepest sample below ground, above
        the water level, and no farther than the maps go [ug/m3]; None where nothing is left, or
        where fewer than two boreholes with gas are near the line.
    """
    domain = _sampled_part(site, section, gas)
    if domain.is_empty or _holes_with(section, gas) < FEWEST_HOLES:
        return None
    s, z, points = grid_in(section, domain)
    values = gas.at(points)
    shape = (GRID_ROWS, GRID_COLUMNS)
    limits = settings_used(site, "soil_gas")
    if limits["most_sd"] > 0:
        room = float(limits["most_sd"]) - values.log10_sd.reshape(shape)
        domain = above(s, z, room, 0.0, domain)
    if limits["farthest_m"] > 0 and not domain.is_empty:
        away = distance_to_data(site, gas.field, points).reshape(shape)
        domain = above(s, z, float(limits["farthest_m"]) - away, 0.0, domain)
    if domain.is_empty:
        return None
    return slice_of(gas, (s, z, points), values, np.zeros(len(points)), domain)


def too_few(section: Section, gas: FittedGas) -> dict[str, str] | None:
    """A note where a line has too few boreholes with gas for a section of it."""
    count = _holes_with(section, gas)
    if count >= FEWEST_HOLES:
        return None
    what = (
        f"no section of {gas.quantity}: found {count} borehole(s) with gas within "
        f"{section.band_width_m:g} m of the line, expected at least {FEWEST_HOLES}"
    )
    todo = "Move the line nearer to boreholes with gas, or rely on the maps."
    return finding("section_line", section.name, what, what_to_do=todo, severity="note")


def _holes_with(section: Section, gas: FittedGas) -> int:
    """Boreholes with gas whose intervals are projected onto the section."""
    measured = set(gas.field.evidence.intervals)
    return len({one.borehole for one in section.intervals if one.interval in measured})


def _sampled_part(site: Site, section: Section, gas: FittedGas) -> MultiPolygon:
    """Between the depths of the samples, above the water level."""
    top_m, bottom_m = sampled_span(site, gas.field.evidence)
    s, ground = section.ground.T
    base = ground - bottom_m
    if section.water is not None:
        base = np.maximum(base, section.water[:, 1])
    return part_between(site, section.plane, s, top=ground - top_m, base=base)
