"""Where a map is left blank, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.contours import above, polygons
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.boreholes.surfaces import bottoms_of, water_of
from geoprofile.products.maps.places import Place

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.geometry.grids import Grid
    from geoprofile.products.maps.mapping import MappedField
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
SLIVER = 1e-9  # of the area of the map, below which a blank is none [-]
POINTS_ALONG = 5  # along an interval, from which distances are taken


@dataclass(frozen=True)
class Limits:
    """How far a map goes: `farthest_m` from data [m], `most_sd` of log10 [-]; 0 for no limit.

    `thinnest_m` [m] is the limit of a unit's thickness.
    """

    farthest_m: float = 0.0
    most_sd: float = 0.0
    thinnest_m: float = 0.0


@dataclass(frozen=True, eq=False)
class Blank:
    """Part of a map that shows nothing: its `reason`, the `limit` [`unit`] where there is one."""

    reason: str
    limit: float | None
    unit: str | None
    shape: MultiPolygon

    @property
    def label(self) -> str:
        """Reason and limit in words."""
        if self.limit is None:
            return self.reason
        if self.unit == "log10":
            return f"{self.reason} by more than a factor of {10**self.limit:.2g}"
        return f"{self.reason} (limit {self.limit:g} {self.unit})"

    @property
    def columns(self) -> dict[str, Any]:
        """What a table of blanks says of it."""
        return {
            "reason": self.reason,
            "limit": self.limit,
            "unit": self.unit,
            "label": self.label,
            "area_m2": self.shape.area,
            "geometry": self.shape,
        }


def blanked(
    site: Site,
    field: MappedField,
    grid: Grid,
    *,
    place: Place,
    domain: MultiPolygon,
    limits: Limits,
    spread: Array | None = None,
) -> tuple[Place, list[Blank]]:
    """A place cut to where its map may be shown, and the rest with the reasons.

    Parameters
    ----------
    site : Site
        Gives boreholes, intervals and water level.
    field : MappedField
        What is mapped.
    grid : Grid
        Nodes [m].
    place : Place
        Where the map lies [m].
    domain : MultiPolygon
        Area of the maps, which the shown part and the blanks tile [m].
    limits : Limits
        Distance [m] and spread [-].
    spread : Array, shape (n,) [-], optional
        Standard deviation of log10 at the nodes; without it nothing is blank for its spread.

    Returns
    -------
    Place
        With the part that is shown as its domain [m].
    list of Blank
        Disjoint, empty ones left out.
    """
    left = place.domain
    found = [_outside(site, field, place, domain, limits)]
    for reason, limit, unit, room in _rooms(site, field, grid, place, limits, spread):
        kept = above(grid.x, grid.y, grid.spread(room), 0.0, left)
        found.append(Blank(reason, limit, unit, polygons(left.difference(kept))))
        left = kept
    least = SLIVER * domain.area
    return replace(place, domain=left), [blank for blank in found if blank.shape.area > least]


def _outside(
    site: Site, field: MappedField, place: Place, domain: MultiPolygon, limits: Limits
) -> Blank:
    """The part of the area in which the place does not exist."""
    shape = polygons(domain.difference(place.domain))
    if place.columns["surface"] == "unit":
        return Blank("unit absent or thin", limits.thinnest_m, "m", shape)
    dry = field.quantity != "K" and water_of(site) is not None
    return Blank("above the water level" if dry else "above ground", None, None, shape)


def _rooms(
    site: Site,
    field: MappedField,
    grid: Grid,
    place: Place,
    limits: Limits,
    spread: Array | None,
) -> Iterator[tuple[str, float | None, str | None, Array]]:
    """Reasons with limit and unit, and at every node what is left before it holds."""
    if place.domain.is_empty:
        return
    yield "below the boreholes", None, None, place.z - bottoms_of(site).at(grid.nodes)
    if limits.farthest_m > 0:
        away = distance_to_data(site, field, np.column_stack([grid.nodes, place.z]))
        yield "far from data", limits.farthest_m, "m", limits.farthest_m - away
    if limits.most_sd > 0 and spread is not None:
        yield "uncertain", limits.most_sd, "log10", limits.most_sd - spread


def distance_to_data(site: Site, field: object, points: Array) -> Array:
    """Straight distance from the nearest interval that a field rests on.

    Parameters
    ----------
    site : Site
        Gives the intervals in space.
    field : object
        Names its intervals; all intervals count for a field that names none.
    points : Array, shape (n, 3) [m]
        Easting, northing, elevation.

    Returns
    -------
    Array, shape (n,) [m]
        Infinite without intervals.
    """
    from scipy.spatial import KDTree

    lines = interval_lines(site)
    used = getattr(getattr(field, "evidence", None), "intervals", tuple(lines))
    share = np.linspace(0.0, 1.0, POINTS_ALONG)[:, None]
    along = [lines[i][0] + share * (lines[i][-1] - lines[i][0]) for i in used]
    if not along:
        return np.full(len(points), np.inf)
    distance, _ = KDTree(np.vstack(along)).query(points)
    return np.asarray(distance, dtype=np.float64)
