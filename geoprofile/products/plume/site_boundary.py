"""How far the edge of a plume lies from the border of the site, along the flow."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
STEPS, TOGETHER = 40, 8  # points that are looked at beyond the border, and of these at a time
REACH = 0.5  # of the extent of the site, how far beyond the border is looked [-]
TOUCH_M = 0.01  # [m] an edge nearer than this lies on the border


def flow_azimuth(site: Site) -> float | None:
    """Direction of flow, where there is one and a site area to hold it against.

    Parameters
    ----------
    site : Site
        Tables flow and area.

    Returns
    -------
    float or None [deg]
        From grid north, clockwise.
    """
    flow, areas = site.table("flow"), site.table("area")
    if flow.empty or not (areas["kind"] == "site").any():
        return None
    azimuth = float(flow.iloc[0]["azimuth_deg"])
    return azimuth if np.isfinite(azimuth) else None


def distance_to_site_boundary(
    extent: MultiPolygon,
    site_area: MultiPolygon,
    azimuth_deg: float | None,
    *,
    probability: float,
    evaluate: Callable[[Array], Array],
) -> float | None:
    """Shortest way from the edge of an extent down the flow to the border of the site.

    Parameters
    ----------
    extent : MultiPolygon
        Within the site area [m].
    site_area : MultiPolygon
        Whose border counts [m].
    azimuth_deg : float or None [deg]
        Direction of flow from grid north, clockwise, as from `flow_azimuth`.
    probability : float [-]
        At the edge of the extent.
    evaluate : callable
        Map points, shape (n, 2) [m], to probabilities, shape (n,) [-]; asked beyond the border
        only where the extent reaches it.

    Returns
    -------
    float or None [m]
        None where there is no direction; 0 where the extent ends at the border; negative where it
        goes on, by how far beyond the border the
        probability stays above that of the edge, up to half the size of the site.
    """
    import shapely

    if azimuth_deg is None:
        return None
    west, south, east, north = site_area.bounds
    size = float(np.hypot(east - west, north - south))
    way = np.array([np.sin(np.radians(azimuth_deg)), np.cos(np.radians(azimuth_deg))])
    edge = shapely.get_coordinates(shapely.segmentize(extent.boundary, size / 200))
    starts = edge + TOUCH_M * way
    rays = shapely.linestrings(np.stack([starts, starts + size * way], axis=1))
    out = shapely.intersection(rays, site_area.boundary)
    inside = shapely.contains_xy(site_area, starts)
    distance = np.where(inside, shapely.distance(shapely.points(starts), out), 0.0)
    shortest = float(np.nanmin(distance))
    if shortest > 2 * TOUCH_M:
        return shortest
    return -_beyond(edge[distance <= 2 * TOUCH_M], way, REACH * size, probability, evaluate)


def _beyond(
    edge: Array,
    way: Array,
    reach_m: float,
    probability: float,
    evaluate: Callable[[Array], Array],
) -> float:
    """Longest way [m] from the border outwards on which the probability stays high enough."""
    steps = reach_m * np.arange(1, STEPS + 1) / STEPS
    farthest = 0.0
    for some in np.split(steps, STEPS // TOGETHER):
        spots = edge[:, None, :] + some[:, None] * way
        high = evaluate(spots.reshape(-1, 2)).reshape(spots.shape[:2]) > probability
        reached = np.logical_and.accumulate(high, axis=1)  # a way that has ended stays so
        farthest = float(max([farthest, *some[reached.any(axis=0)]]))
        edge = edge[reached[:, -1]]
        if not len(edge):
            break
    return farthest
