"""Shapes of the site to longitude and latitude, vertex by vertex, with heights left alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from geoprofile.errors import DataError

Array: TypeAlias = NDArray[np.float64]
HALF_TURN, TURN = 180.0, 360.0
HEIGHT_DECIMALS = 3


def to_wgs84(shapes: Sequence[Any], crs: str) -> list[Any]:
    """Shapes in longitude, latitude [deg]; the third coordinate [m] stays; rings turn left.

    A shape that crosses the antimeridian is cut there (RFC 7946, 3.1.9). DataError where the CRS
    has no tie to the globe.
    """
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    try:
        transform = Transformer.from_crs(crs, 4326, always_xy=True).transform
    except ProjError as error:
        raise DataError(
            "longitude and latitude",
            "a CRS with no tie to the globe, such as a mine grid",
            "a projected CRS",
            "Write another format, which keeps the coordinates of the site.",
        ) from error

    def moved(vertices: Array) -> Array:
        longitude, latitude = transform(vertices[:, 0], vertices[:, 1])
        return np.column_stack([longitude, latitude, *vertices[:, 2:].T])

    return [None if s is None or s.is_empty else _cut(_moved(s, moved)) for s in shapes]


def _moved(shape: Any, move: Callable[[Array], Array]) -> Any:
    """The same shape at other places, its third coordinate kept if it has one."""
    turned = shapely.transform(shape, move, include_z=bool(shape.has_z))
    return shapely.orient_polygons(turned)


def _cut(shape: Any) -> Any:
    """A shape in two parts where it crosses the antimeridian; else as it is."""
    west, _, east, _ = shape.bounds
    if shape.geom_type == "Point" or east - west <= HALF_TURN:
        return shape
    whole = _moved(shape, _eastwards)
    low = whole.intersection(shapely.box(0.0, -90.0, HALF_TURN, 90.0))
    high = whole.intersection(shapely.box(HALF_TURN, -90.0, TURN, 90.0))
    back = _moved(high, lambda v: np.column_stack([v[:, 0] - TURN, v[:, 1:]]))
    parts = [g for side in (low, back) for g in getattr(side, "geoms", [side]) if not g.is_empty]
    join = shapely.multipolygons if "Polygon" in shape.geom_type else shapely.multilinestrings
    return join(parts)


def _eastwards(vertices: Array) -> Array:
    """Longitudes from 0 to 360."""
    return np.column_stack([vertices[:, 0] % TURN, vertices[:, 1:]])


def coordinates_of(shape: Any, decimals: int) -> Any:
    """The nested lists of GeoJSON: degrees rounded to `decimals`, heights to the millimetre."""
    kind = shape.geom_type
    if kind == "Point":
        return _rounded(shape, decimals)[0]
    if kind == "LineString":
        return _rounded(shape, decimals)
    if kind == "Polygon":
        return [_rounded(ring, decimals) for ring in (shape.exterior, *shape.interiors)]
    return [coordinates_of(part, decimals) for part in shape.geoms]


def _rounded(shape: Any, decimals: int) -> list[list[float]]:
    vertices = shapely.get_coordinates(shape, include_z=bool(shape.has_z))
    return [
        [round(v, decimals) for v in row[:2]] + [round(v, HEIGHT_DECIMALS) for v in row[2:]]
        for row in vertices.tolist()
    ]
