"""The regular grid that is laid over a domain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.budget import afford_cells

if TYPE_CHECKING:
    from shapely import MultiPolygon

Array: TypeAlias = NDArray[np.float64]


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
    afford_cells(east - west, north - south, cell)
    x = west + cell * (np.arange(np.ceil((east - west) / cell) + 3) - 1)
    y = south + cell * (np.arange(np.ceil((north - south) / cell) + 3) - 1)
    left, low = np.meshgrid(x[:-1], y[:-1])
    touched = shapely.intersects(shapely.box(left, low, left + cell, low + cell), domain)
    inside = np.zeros((len(y), len(x)), dtype=np.bool_)
    for rows in (slice(None, -1), slice(1, None)):
        for columns in (slice(None, -1), slice(1, None)):
            inside[rows, columns] |= touched
    return Grid(x, y, inside, cell)
