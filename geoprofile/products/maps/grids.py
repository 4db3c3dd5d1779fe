"""The domain that maps cover, and the regular grid that is laid over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.geometry.contours import polygons
from geoprofile.products.boreholes.surfaces import NEST_M

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
# Where no site area is drawn, the hull of the boreholes has a margin. It follows the usual distance
# from hole to hole, not the extent of all: a new hole far away widens nothing round the others.
MARGIN_OF_SPACING = 0.75  # of the distance to the next hole, and of the usual such distance [-]
MARGIN_OF_EXTENT = 0.25  # of the extent of the boreholes at most: three holes tell of little [-]
LEAST_MARGIN_M = 10.0


def domain_of(site: Site) -> MultiPolygon:
    """The area that maps cover: the site area, else a hull round the boreholes with a margin.

    Parameters
    ----------
    site : Site
        Its tables `area` and `borehole` are read.

    Returns
    -------
    MultiPolygon
        In map coordinates [m].

    Raises
    ------
    DataError
        No site area and no borehole.
    """
    import shapely

    areas = site.table("area")
    drawn = areas[areas["kind"] == "site"]
    if not drawn.empty:
        return polygons(shapely.union_all(drawn.geometry.to_numpy()))
    holes = site.table("borehole")
    if holes.empty:
        raise DataError(
            "site", "no site area and no borehole", "one of them", "Load boreholes or draw areas."
        )
    xy = holes[["x", "y"]].to_numpy(np.float64)
    round_each = shapely.buffer(shapely.points(xy), hull_margins(xy))
    return polygons(shapely.union_all(round_each).convex_hull)


def hull_margins(xy: Array) -> Array:
    """Ground round each borehole that counts as the site where no area is drawn.

    Parameters
    ----------
    xy : Array, shape (n, 2) [m]
        Boreholes.

    Returns
    -------
    Array, shape (n,) [m]
        Three quarters of the distance to the next hole, or of the usual such distance where that
        is less; at most a quarter of the extent of all, at least 10 m. Common practice, no source.
    """
    away = (np.hypot(*(xy - place).T) for place in xy)
    to_next = np.array([apart[apart > NEST_M].min(initial=np.inf) for apart in away])
    if not np.isfinite(to_next).all():  # one hole, or one nest
        return np.full(len(xy), LEAST_MARGIN_M)
    usual = np.minimum(to_next, np.median(to_next))
    extent = float(np.hypot(*np.ptp(xy, axis=0)))
    most_m = max(MARGIN_OF_EXTENT * extent, LEAST_MARGIN_M)
    margins: Array = np.clip(MARGIN_OF_SPACING * usual, LEAST_MARGIN_M, most_m)
    return margins
