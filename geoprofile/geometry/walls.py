"""Shapes of a section plane put upright at their place on the map.

Planar libraries call upright polygons invalid and lose them in overlays. So all cutting is done in
the section plane, and the upright shapes are only made, never worked on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geoprofile.geometry.contours import polygons

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

    from geoprofile.geometry import SectionPlane


def upright(shape: MultiPolygon, plane: SectionPlane) -> MultiPolygon:
    """A shape of the section plane in map coordinates, cut at the bends of the line.

    Parameters
    ----------
    shape : MultiPolygon
        Distance along the line and elevation [m].
    plane : SectionPlane
        Gives the place on the map [m].

    Returns
    -------
    MultiPolygon
        x, y, elevation [m]; every polygon is flat and upright.
    """
    import shapely

    if shape.is_empty:
        return shapely.MultiPolygon()
    _, low, _, high = shape.bounds
    ends = zip(plane.bends[:-1], plane.bends[1:], strict=True)
    strips = [shapely.box(left, low - 1.0, right, high + 1.0) for left, right in ends]
    parts = [polygons(shape.intersection(strip)) for strip in strips]
    return shapely.MultiPolygon([_raised(p, plane) for part in parts for p in part.geoms])


def _raised(flat: Polygon, plane: SectionPlane) -> Polygon:
    """One polygon with every ring put on the plane."""
    import shapely

    outline, *holes = (
        plane.to_map(*np.asarray(ring.coords)[:, :2].T) for ring in (flat.exterior, *flat.interiors)
    )
    return shapely.Polygon(outline, holes)
