"""The domain that maps cover, and the regular grid that is laid over it."""

from __future__ import annotations

from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False)
class Grid:
    """Grid lines `x` (nx,) and `y` (ny,) [m], and which nodes lie in or next to the domain.

    `inside` (ny, nx) marks the nodes of every cell that touches the domain; `cell_m` [m] is the
    width of a cell.
    """

    x: Array
    y: Array
    inside: NDArray[np.bool_]
    cell_m: float

    @property
    def nodes(self) -> Array:
        """x, y of the nodes inside, shape (n, 2) [m]."""
        xx, yy = np.meshgrid(self.x, self.y)
        return np.column_stack([xx[self.inside], yy[self.inside]])

    def spread(self, values: Array) -> Array:
        """Values at the nodes inside as a grid.

        Parameters
        ----------
        values : Array, shape (n,) [any unit]
            At `nodes`.

        Returns
        -------
        Array, shape (ny, nx) [same unit]
            NaN outside.
        """
        grid = np.full(self.inside.shape, np.nan)
        grid[self.inside] = values
        return grid


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


def grid_over(domain: MultiPolygon, *, cell_m: float = 0.0, cells: int = 7000) -> Grid:
    """A square grid that covers the domain with a cell to spare.

    Parameters
    ----------
    domain : MultiPolygon
        What to cover [m].
    cell_m : float [m]
        Width of a cell; 0 takes it from the extent.
    cells : int [-]
        Number of cells over the bounding box where no width is given.

    Returns
    -------
    Grid
        Lines and nodes [m].
    """
    import shapely

    west, south, east, north = domain.bounds
    cell = cell_m or float(np.sqrt((east - west) * (north - south) / cells))
    x = west + cell * (np.arange(np.ceil((east - west) / cell) + 3) - 1)
    y = south + cell * (np.arange(np.ceil((north - south) / cell) + 3) - 1)
    left, low = np.meshgrid(x[:-1], y[:-1])
    touched = shapely.intersects(shapely.box(left, low, left + cell, low + cell), domain)
    inside = np.zeros((len(y), len(x)), dtype=np.bool_)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            inside[rows, columns] |= touched
    return Grid(x, y, inside, cell)
