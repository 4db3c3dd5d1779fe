"""Where a map lies: at an elevation, at a depth below ground, or in the middle of a unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.budget import afford_levels
from geoprofile.geometry.contours import above
from geoprofile.products.boreholes.surfaces import ground_of, water_of
from geoprofile.products.units.inputs import unit_surfaces

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.geometry.grids import Grid
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
ALL = "all"  # asks for every unit
THINNEST_M = 0.5  # a thinner unit is left blank where nothing else is said
ROUNDING_M = 1e-6  # a map at the ground itself still lies in it


@dataclass(frozen=True)
class Wanted:
    """Maps asked for: `elevations_m` and `depths_m` below ground [m], and `units` by name.

    A unit thinner than `thinnest_m` [m] is left blank.
    """

    elevations_m: Sequence[float] = ()
    depths_m: Sequence[float] = ()
    units: Sequence[str] = ()
    thinnest_m: float = THINNEST_M


@dataclass(frozen=True, eq=False)
class Place:
    """Where a map lies: `title` in words, `columns` as tables name it.

    `z` (n,) [m] is the elevation at the nodes of the grid, `domain` what is mapped [m].
    """

    title: str
    columns: Mapping[str, object]
    z: Array
    domain: MultiPolygon


def top_of(site: Site, xy: Array, quantity: str) -> Array:
    """Elevation down from which a quantity is mapped: K from the ground, others from the water.

    Parameters
    ----------
    site : Site
        Gives ground and water level.
    xy : Array, shape (n, 2) [m]
        Map points.
    quantity : str
        K, or an analyte.

    Returns
    -------
    Array, shape (n,) [m]
        Never above the ground.
    """
    ground = ground_of(site).at(xy)
    water = None if quantity == "K" else water_of(site)
    return ground if water is None else np.minimum(ground, water.at(xy))


def places_of(
    site: Site, grid: Grid, domain: MultiPolygon, *, quantity: str, wanted: Wanted
) -> list[Place]:
    """The places of the maps of a quantity.

    Parameters
    ----------
    site : Site
        Gives ground, water level and the surfaces between units.
    grid : Grid
        Covers the domain [m].
    domain : MultiPolygon
        Area of the maps [m].
    quantity : str
        K, or an analyte.
    wanted : Wanted
        Elevations and depths [m], names of units.

    Returns
    -------
    list of Place
        In the order asked for; the domain is empty where nothing lies there. Units that no borehole
        meets are left out.

    Notes
    -----
    The map of a unit lies at half its height, for concentrations at half the height of its part
    below the water level: it is the field there, not a mean over the thickness.
    """
    levels = len(wanted.elevations_m) + len(wanted.depths_m) + len(wanted.units)
    afford_levels(int(grid.inside.sum()), levels)
    top = top_of(site, grid.nodes, quantity)
    level = grid.spread(top)
    found = [
        Place(
            f"elevation {z:g} m",
            {"surface": "elevation", "elevation_m": z},
            np.full(len(top), z),
            above(grid.x, grid.y, level, z, domain),
        )
        for z in wanted.elevations_m
    ]
    ground = ground_of(site).at(grid.nodes)
    for depth in wanted.depths_m:
        z = ground - depth
        under = above(grid.x, grid.y, grid.spread(top - z), -ROUNDING_M, domain)
        columns = {"surface": "depth", "depth_m": depth}
        found.append(Place(f"{depth:g} m below ground", columns, z, under))
    return found + _in_units(site, grid, domain, top, wanted)


def chosen_units(site: Site, wanted: Sequence[str]) -> tuple[list[str], list[str]]:
    """Units that can be mapped, and names asked for that no borehole meets.

    Parameters
    ----------
    site : Site
        Its table `hydro_unit` is read.
    wanted : sequence of str
        Names of units; "all" for every unit.

    Returns
    -------
    tuple of list of str
        Known from top to bottom, and unknown.
    """
    surfaces = unit_surfaces(site)
    names = () if surfaces is None else surfaces.names
    asked = {name.strip().casefold(): name for name in wanted}
    if ALL in asked:
        return list(names), [] if names else [ALL]
    known = [name for name in names if name.casefold() in asked]
    missing = set(asked) - {name.casefold() for name in known}
    return known, sorted(asked[name] for name in missing)


def _in_units(
    site: Site, grid: Grid, domain: MultiPolygon, top: Array, wanted: Wanted
) -> list[Place]:
    """Middles of the units that are mapped."""
    surfaces = unit_surfaces(site)
    names, _ = chosen_units(site, wanted.units)
    if surfaces is None or not names:
        return []
    tops, bases = surfaces.tops(grid.nodes), surfaces.bases(grid.nodes)
    found = []
    for name in names:
        k = surfaces.names.index(name)
        upper = np.minimum(tops[:, k], top)
        thickness = grid.spread(upper - bases[:, k])
        found.append(
            Place(
                f"mid-height of {name}",
                {"surface": "unit", "hydro_unit": name},
                (upper + bases[:, k]) / 2.0,
                above(grid.x, grid.y, thickness, wanted.thinnest_m, domain),
            )
        )
    return found
