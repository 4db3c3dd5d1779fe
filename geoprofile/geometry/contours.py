"""From gridded values to filled bands that tile their domain, to extents and to lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely import LineString, MultiPolygon
    from shapely.geometry.base import BaseGeometry

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Band:
    """The part of the domain where `lower` < value <= `upper`; infinite where the band is open."""

    lower: float
    upper: float
    shape: MultiPolygon


def bands(
    x: Array, y: Array, values: Array, levels: Sequence[float], domain: BaseGeometry
) -> list[Band]:
    """Filled bands between levels, cut to a domain that they tile.

    Parameters
    ----------
    x, y : Array, shape (nx,) and (ny,) [m]
        Grid lines, rising; the grid must cover the domain.
    values : Array, shape (ny, nx) [unit of the levels]
        Contour log10 of a concentration or of K, not the value itself. NaN outside what is known;
        cells with a NaN corner belong to no band.
    levels : sequence of float [unit of the values]
        Rising; bands below the first and above the last are open.
    domain : BaseGeometry
        Polygon or MultiPolygon in the plane of x and y [m].

    Returns
    -------
    list of Band
        From low to high, empty bands left out; shapes in the plane of x and y [m].

    Notes
    -----
    Values are linear along cell edges. A value equal to a level belongs to the band below it, and
    the lowest edge lies just under the smallest value, so that plateaus on a level are not lost.
    """
    finite = values[np.isfinite(values)]
    if finite.size == 0 or domain.is_empty:
        return []
    low, high = float(finite.min()), float(finite.max())
    inner = [float(v) for v in levels if low <= v < high]
    under = [float(v) for v in levels if v < low]
    over = [float(v) for v in levels if v >= high]
    reach = max(high - low, abs(high), 1e-12)
    edges = [low - 1e-6 * reach, *inner, high + 1e-6 * reach]
    names = [under[-1] if under else -np.inf, *inner, over[0] if over else np.inf]
    generator = _generator(x, y, values)
    found = []
    for k in range(len(edges) - 1):
        shape = polygons(_filled(generator, edges[k], edges[k + 1]).intersection(domain))
        if not shape.is_empty:
            found.append(Band(names[k], names[k + 1], shape))
    return found


def above(x: Array, y: Array, values: Array, level: float, domain: BaseGeometry) -> MultiPolygon:
    """The part of the domain where the value lies above a level; extents of rising levels nest.

    Parameters
    ----------
    x, y : Array, shape (nx,) and (ny,) [m]
        Grid lines, rising; the grid must cover the domain.
    values : Array, shape (ny, nx) [unit of the level]
        NaN outside what is known.
    level : float [unit of the values]
        The lower edge, left out.
    domain : BaseGeometry
        Polygon or MultiPolygon in the plane of x and y [m].

    Returns
    -------
    MultiPolygon
        Possibly empty, in the plane of x and y [m].
    """
    import shapely

    finite = values[np.isfinite(values)]
    if finite.size == 0 or float(finite.max()) <= level or domain.is_empty:
        return shapely.MultiPolygon()
    top = float(finite.max()) + 1e-6 * max(abs(float(finite.max())), 1e-12)
    return polygons(_filled(_generator(x, y, values), level, top).intersection(domain))


def isolines(
    x: Array, y: Array, values: Array, level: float, domain: BaseGeometry
) -> list[LineString]:
    """Lines along which the value equals a level, cut to a domain.

    Parameters
    ----------
    x, y : Array, shape (nx,) and (ny,) [m]
        Grid lines, rising.
    values : Array, shape (ny, nx) [unit of the level]
        NaN outside what is known.
    level : float [unit of the values]
        Of the lines.
    domain : BaseGeometry
        Polygon or MultiPolygon in the plane of x and y [m].

    Returns
    -------
    list of LineString
        Possibly none, in the plane of x and y [m].
    """
    import shapely

    traced = [shapely.LineString(points) for points in _generator(x, y, values).lines(level)]
    parts = [part for line in traced for part in _flat(line.intersection(domain))]
    return [part for part in parts if part.geom_type == "LineString" and part.length > 0]


def polygons(shape: BaseGeometry) -> MultiPolygon:
    """The valid polygons of any geometry as one MultiPolygon, outer rings anticlockwise.

    Parameters
    ----------
    shape : BaseGeometry
        Any geometry [m].

    Returns
    -------
    MultiPolygon
        Without its points and lines, in the same plane [m].
    """
    import shapely
    from shapely.geometry.polygon import orient

    if not shape.is_valid:
        shape = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    parts = [p for p in _flat(shape) if p.geom_type == "Polygon" and p.area > 0]
    return shapely.MultiPolygon([orient(p) for p in parts])


def _flat(shape: BaseGeometry) -> list[Any]:
    """Single geometries of a possibly nested collection."""
    if not hasattr(shape, "geoms"):
        return [shape]
    return [single for part in shape.geoms for single in _flat(part)]


def _generator(x: Array, y: Array, values: Array) -> Any:
    """What traces contours through the grid."""
    from contourpy import FillType, contour_generator

    return contour_generator(
        x,
        y,
        np.ma.masked_invalid(values),
        fill_type=FillType.OuterOffset,
    )


def _filled(generator: Any, lower: float, upper: float) -> MultiPolygon:
    """The region between two levels."""
    import shapely

    parts = []
    for points, offsets in zip(*generator.filled(lower, upper), strict=True):
        rings = [points[a:b] for a, b in pairwise(offsets)]
        parts.append(shapely.Polygon(rings[0], rings[1:]))
    return polygons(shapely.MultiPolygon(parts)) if parts else shapely.MultiPolygon()
