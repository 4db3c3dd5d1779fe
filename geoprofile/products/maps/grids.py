"""The domain that maps cover, and the regular grid that is laid over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.geometry.contours import polygons

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
HULL_MARGIN = 0.15  # of the extent of the boreholes, where no site area is drawn [-]


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
    hull = shapely.MultiPoint(xy).convex_hull
    reach = float(np.hypot(*np.ptp(xy, axis=0)))
    return polygons(hull.buffer(max(HULL_MARGIN * reach, 10.0)))
