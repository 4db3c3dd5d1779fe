"""Lines that hold a whole plume, or lie wholly inside it, with a stated confidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.contours import polygons
from geoprofile.geometry.edges import normal_score

if TYPE_CHECKING:
    from shapely import MultiPolygon
    from shapely.geometry.base import BaseGeometry

    from geoprofile.geometry.grids import Grid

Array: TypeAlias = NDArray[np.float64]
SPECKS = 0.02  # [-]
SMOOTH_CELLS = 1.0
ALONG_BORDER_M = 1e-3  # how near to the border of the map an edge counts as lying on it


def confident_chances(
    order: Array, hits: NDArray[np.bool_], area: Array, confidence: float, *, specks: float = SPECKS
) -> tuple[float, float]:
    """Levels whose edges are the outer and the inner line.

    Parameters
    ----------
    order : Array, shape (n,) [-]
        What the lines are level sets of, at places of the map: any measure of chance will do.
    hits : Array of bool, shape (realisations, n)
        Where each simulated field lies above the criterion.
    area : Array, shape (n,) [m2]
        Of each place.
    confidence : float [-]
        Of each line.
    specks : float [-]
        Share of its area by which a plume may lie outside and still count as inside.

    Returns
    -------
    tuple of float [-]
        Outer: in that share of the fields all that exceeds, but for specks, has at least this
        level. Inner: in that share all that has a higher level than this exceeds, but for specks.

    Notes
    -----
    Which level keeps the promise for all places at once is read off joint simulations. These are
    rougher than plumes: without a share for specks a single far cell would hold the line.

    References
    ----------
    Bolin and Lindgren (2015), excursion and contour uncertainty regions; Azzimonti et al. (2019),
    conservative estimates, from memory.

    Examples
    --------
    For fields that all differ by one and the same number the lines of 90 % are the edges of chance
    0.1 and 0.9.
    """
    rising = np.argsort(order, kind="stable")
    sized = hits[:, rising] * area[rising]
    outside = np.cumsum(sized, axis=1)
    allowed = outside <= specks * outside[:, -1:]
    lowest = np.append(order[rising], np.inf)[allowed.sum(axis=1)]
    falling = rising[::-1]
    missed = np.cumsum(~hits[:, falling] * area[falling], axis=1)
    kept = missed <= specks * np.cumsum(area[falling])
    outer = np.quantile(lowest, 1.0 - confidence, method="lower")
    # The widest set that keeps the promise: small ones are all or nothing.
    good = np.flatnonzero(kept.mean(axis=0) >= confidence)
    count = int(good[-1]) + 1 if good.size else 0
    inner = np.append(order[falling], -np.inf)[count]
    # Where no field, or every one, exceeds everywhere the level has no end of its own.
    return float(min(outer, 1.0)), float(max(inner, 0.0))


def calmed(grid: Grid, chance: Array) -> Array:
    """Chances of a grid without the noise of a finite number of fields.

    Parameters
    ----------
    grid : Grid
        Nodes [m].
    chance : Array, shape (n,) [-]
        At its nodes.

    Returns
    -------
    Array, shape (n,) [-]
        Smoothed as normal scores over about two cells.
    """
    from scipy.ndimage import gaussian_filter
    from scipy.special import ndtr

    scores = grid.spread(normal_score(chance))
    known = np.isfinite(scores)
    sums = gaussian_filter(np.where(known, scores, 0.0), SMOOTH_CELLS, mode="constant")
    shares = gaussian_filter(known.astype(float), SMOOTH_CELLS, mode="constant")
    return np.asarray(ndtr(sums[known] / shares[known]))


def without_holes(shape: MultiPolygon, filled: bool) -> MultiPolygon:
    """A shape whose holes count as inside, if that is wanted: it can only hold more.

    Parameters
    ----------
    shape : MultiPolygon
        In map coordinates [m].
    filled : bool
        Whether to fill.

    Returns
    -------
    MultiPolygon
        The same, or filled [m].
    """
    import shapely

    if not filled or shape.is_empty:
        return shape
    rings = [shapely.Polygon(part.exterior) for part in shape.geoms]
    return polygons(shapely.union_all(rings))


def open_border_m(shape: MultiPolygon, domain: MultiPolygon) -> float:
    """How much of the edge of a shape is no edge but the end of the map.

    Parameters
    ----------
    shape : MultiPolygon
        Inside the domain [m].
    domain : MultiPolygon
        Area of the map [m].

    Returns
    -------
    float [m]
        0 for a shape that is closed.
    """
    strip = domain.boundary.buffer(ALONG_BORDER_M, cap_style="flat")
    return float(shape.boundary.intersection(strip).length)


def edge_inside(shape: MultiPolygon, domain: MultiPolygon) -> BaseGeometry:
    """The edge of a shape without what runs along the border of the map.

    Parameters
    ----------
    shape, domain : MultiPolygon
        The shape, and the area of the map [m].

    Returns
    -------
    BaseGeometry
        Lines [m]; empty where the shape fills the map.
    """
    strip = domain.boundary.buffer(ALONG_BORDER_M, cap_style="flat")
    return shape.boundary.difference(strip)


def closing_place(shape: MultiPolygon, domain: MultiPolygon, holes: Array) -> Array | None:
    """Where a borehole would do most to close an open line.

    Parameters
    ----------
    shape : MultiPolygon
        Open towards the border of the domain [m].
    domain : MultiPolygon
        Area of the map [m].
    holes : Array, shape (n, 2) [m]
        Boreholes there are.

    Returns
    -------
    Array, shape (2,) [m], or None
        The place on the open part of the border that lies farthest from all of them; None where
        the shape is closed.
    """
    import shapely

    strip = domain.boundary.buffer(ALONG_BORDER_M, cap_style="flat")
    edge = shape.boundary.intersection(strip)
    if not edge.length:
        return None
    length = max(edge.length / 200.0, ALONG_BORDER_M)
    places = shapely.get_coordinates(shapely.segmentize(edge, length))
    gaps = np.linalg.norm(places[:, None] - holes[None], axis=2).min(axis=1)
    return np.asarray(places[int(np.argmax(gaps))], dtype=np.float64)
