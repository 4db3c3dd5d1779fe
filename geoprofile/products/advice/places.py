"""Places where a borehole may be drilled, the zones it would have, and what it would cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile import kriging
from geoprofile.errors import UsageError
from geoprofile.plugins import Setting
from geoprofile.products.boreholes.surfaces import bottoms_of, ground_of, water_of
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.packer_plan.inputs import packers_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from geoprofile.site import Site

Array = NDArray[np.float64]
PLACES_ON_GRID = 400
PLACE_SETTINGS = (
    Setting("candidates", [], "m", "Places to try as 'easting northing'; empty for a grid"),
    Setting("grid_m", 0.0, "m", "Step of the grid of places; 0 takes it from the area", low=0.0),
    Setting("stand_off_m", 5.0, "m", "Distance kept from areas closed to drilling", low=0.0),
    Setting("distance_m", 5.0, "m", "Distance kept from existing boreholes", low=0.1),
    Setting("depth_m", 0.0, "m", "Largest depth; 0 takes that of the holes around", low=0.0),
    Setting("casing_m", 4.0, "m", "Depth of casing, above which no zone is planned", low=0.0),
    Setting("zone_m", 2.0, "m", "Length of the zones", low=0.1),
    Setting("spacing_m", 4.0, "m", "From the top of a zone to the top of the next", low=0.2),
    Setting("sump_m", 1.5, "m", "Depth below the deepest zone, for a packer element", low=0.0),
)


@dataclass(frozen=True, eq=False)
class Places:
    """Where a hole could be drilled: `xy` (n, 2), `ground` (n,), `water` (n,), `depth` (n,) [m]."""

    xy: Array
    ground: Array
    water: Array
    depth: Array

    def take(self, index: NDArray[np.intp]) -> Places:
        """Some of the places."""
        return Places(self.xy[index], self.ground[index], self.water[index], self.depth[index])


@dataclass(frozen=True, eq=False)
class Zones:
    """Zones of the places: `place` (m,) [-], `top` and `bottom` (m,) [m] below ground."""

    place: NDArray[np.intp]
    top: Array
    bottom: Array

    def support(self, places: Places) -> kriging.Support:
        """The zones in space, vertical."""
        here = places.xy[self.place]
        ground = places.ground[self.place]
        ends = [np.column_stack([here, ground - depth]) for depth in (self.top, self.bottom)]
        return kriging.Support.from_lines(list(np.stack(ends, axis=1)))

    def take(self, index: NDArray[np.intp]) -> Zones:
        """Some of the zones."""
        return Zones(self.place[index], self.top[index], self.bottom[index])


def places_of(site: Site, settings: Mapping[str, Any]) -> Places:
    """Where a borehole may be drilled.

    Parameters
    ----------
    site : Site
        Tables area, borehole, survey and head.
    settings : Mapping
        `candidates`, `grid_m`, `stand_off_m`, `distance_m`, `depth_m` [m].

    Returns
    -------
    Places
        Inside the site, outside closed areas and their stand-off [m].
    """
    allowed = allowed_area(site, float(settings["stand_off_m"]), float(settings["distance_m"]))
    given = _given(settings["candidates"])
    xy = given if len(given) else _grid(allowed, float(settings["grid_m"]))
    xy = xy[shapely.covers(allowed, shapely.points(xy))] if len(xy) else xy
    if not len(xy):
        blank = np.empty(0)
        return Places(np.empty((0, 2)), blank, blank, blank)
    ground = ground_of(site).at(xy)
    surface = water_of(site)
    water = np.zeros(len(xy)) if surface is None else np.maximum(ground - surface.at(xy), 0.0)
    depth = np.full(len(xy), float(settings["depth_m"]))
    if not settings["depth_m"]:
        depth = np.maximum(ground - bottoms_of(site).at(xy), 1.0)
    reach = [p.max_depth_m for p in packers_of(site) if p.max_depth_m is not None]
    if reach and len(reach) == len(packers_of(site)):
        depth = np.minimum(depth, max(reach))  # deeper than any packer may go is no use
    return Places(xy, ground, water, depth)


def allowed_area(site: Site, stand_off_m: float, distance_m: float) -> BaseGeometry:
    """Where drilling is allowed.

    Parameters
    ----------
    site : Site
        Tables area and borehole.
    stand_off_m, distance_m : float [m]
        From areas closed to drilling, and from holes that exist.

    Returns
    -------
    BaseGeometry
        May be empty.
    """
    area: BaseGeometry = domain_of(site)
    rows = site.table("area")
    for shape in rows[rows["kind"] == "no drilling"].geometry:
        area = area.difference(shape.buffer(stand_off_m))
    holes = shapely.points(site.boreholes[["x", "y"]].to_numpy(float))
    return area.difference(shapely.union_all(shapely.buffer(holes, distance_m)))


def _given(candidates: Sequence[str]) -> Array:
    """The user's places."""
    try:
        pairs = [[float(part) for part in str(words).split()] for words in candidates]
        return np.array(pairs, dtype=float).reshape(-1, 2)
    except ValueError:
        raise UsageError(
            "next_borehole candidates",
            repr(list(candidates)),
            "texts with easting and northing, such as '512400 4986200'",
            "Correct the setting.",
        ) from None


def _grid(allowed: BaseGeometry, step: float) -> Array:
    """A square grid over the allowed area."""
    if allowed.is_empty:
        return np.empty((0, 2))
    west, south, east, north = allowed.bounds
    width = step or float(np.sqrt(max(allowed.area, 1.0) / PLACES_ON_GRID))
    x = np.arange(west + width / 2, east, width)
    y = np.arange(south + width / 2, north, width)
    return np.column_stack([a.ravel() for a in np.meshgrid(x, y)])


def zones_of(places: Places, *, first_m: float, length_m: float, spacing_m: float) -> Zones:
    """Zones down every hole, apart from each other, below casing and water level.

    Parameters
    ----------
    places : Places
        With their depths [m].
    first_m, length_m, spacing_m : float [m]
        Least depth of a zone (casing), length, and distance from top to top.

    Returns
    -------
    Zones
        In order of places and depth [m].
    """
    rows = []
    for place, (water, depth) in enumerate(zip(places.water, places.depth, strict=True)):
        tops = np.arange(max(first_m, water), depth - length_m + 1e-9, spacing_m)
        rows.append(np.column_stack([np.full(len(tops), place), tops, tops + length_m]))
    table = np.vstack(rows)
    return Zones(table[:, 0].astype(np.intp), table[:, 1], table[:, 2])


def costs(places: Places, zones: Zones, settings: Mapping[str, Any]) -> Array:
    """What every place costs: metres drilled to below its deepest zone, and work in its zones.

    Parameters
    ----------
    places, zones : Places, Zones
        [m].
    settings : Mapping
        `cost_metre`, `cost_move`, `cost_sample`, `sump_m`.

    Returns
    -------
    Array, shape (n,) [units of cost]
        Above 0.
    """
    metres = depths_of(places, zones, float(settings["sump_m"]))
    each = float(settings["cost_move"]) + float(settings["cost_sample"])
    count = np.bincount(zones.place, minlength=len(places.xy))
    return np.maximum(metres * float(settings["cost_metre"]) + count * each, 1e-9)


def depths_of(places: Places, zones: Zones, sump_m: float) -> Array:
    """Proposed depths: room for a packer element below the deepest zone.

    Parameters
    ----------
    places, zones : Places, Zones
        [m].
    sump_m : float [m]
        Below the deepest zone.

    Returns
    -------
    Array, shape (n,) [m]
        0 where a place has no zone.
    """
    deepest = np.zeros(len(places.xy))
    np.maximum.at(deepest, zones.place, zones.bottom)
    return np.where(deepest > 0, deepest + sump_m, 0.0)
