"""The edge of an extent where it is an edge, and not where the map ends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

BORDER = 0.002  # of the width of what is mapped, within which an edge is its border [-]


def edge_lines(shape: BaseGeometry, mapped: BaseGeometry) -> list[Any]:
    """The edge of an extent where it lies inside what is mapped.

    Along the border of the map the extent is cut off, it does not end: a line there would close a
    plume that goes on.

    Parameters
    ----------
    shape : BaseGeometry
        Extent [m].
    mapped : BaseGeometry
        What is mapped [m], seams between its pieces included; nothing where that is not known.

    Returns
    -------
    list of LineString
        As long as they can be, so that dashes run on.
    """
    found = shape.boundary
    if mapped is not None and not mapped.is_empty:
        west, south, east, north = mapped.bounds
        reach = BORDER * max(east - west, north - south)
        # outwards first: seams between bands, where many an edge runs, are no border
        found = found.intersection(mapped.buffer(reach).buffer(-2 * reach))
    lines = getattr(found, "geoms", [found])
    merged = [part for part in lines if part.geom_type == "LineString" and not part.is_empty]
    whole = shapely.line_merge(shapely.MultiLineString(merged))
    return [part for part in getattr(whole, "geoms", [whole]) if not part.is_empty]
