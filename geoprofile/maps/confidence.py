"""Lines that hold a whole plume, or lie wholly inside it, with a stated confidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely import MultiPolygon
    from shapely.geometry.base import BaseGeometry

Array: TypeAlias = NDArray[np.float64]
ALONG_BORDER_M = 1e-3  # how near to the border of the map an edge counts as lying on it


def confident_chances(
    chance: Array, hits: NDArray[np.bool_], confidence: float
) -> tuple[float, float]:
    """Chances whose edges are the outer and the inner line.

    Parameters
    ----------
    chance : Array, shape (n,) [-]
        Of lying above the criterion, at places of the map.
    hits : Array of bool, shape (realisations, n)
        Where each simulated field lies above it.
    confidence : float [-]
        Of each line.

    Returns
    -------
    tuple of float [-]
        Outer: in that share of the fields all that exceeds has at least this chance. Inner: in
        that share all that has a higher chance than this exceeds.

    Notes
    -----
    Both lines are level sets of the chance at single places; which level keeps the promise for all
    places at once is read off joint simulations.

    References
    ----------
    Bolin and Lindgren (2015), excursion and contour uncertainty regions; Azzimonti et al. (2019),
    conservative estimates, from memory.

    Examples
    --------
    For fields that all differ by one and the same number the lines of 90 % are the edges of chance
    0.1 and 0.9.
    """
    lowest = np.where(hits, chance, 1.0).min(axis=1)
    highest = np.where(hits, 0.0, chance).max(axis=1)
    outer = np.quantile(lowest, 1.0 - confidence, method="lower")
    inner = np.quantile(highest, confidence, method="higher")
    return float(outer), float(inner)


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
