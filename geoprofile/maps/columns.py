"""The ground below the map cut into boxes: probabilities over depth, volumes and their range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.maps.grids import Grid, grid_over
from geoprofile.maps.mapping import MappedField
from geoprofile.maps.surfaces import bottoms_of, ground_of, water_of

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
DEPTH_CELLS = 16
VOLUME_CELLS = 900  # map cells of the grid on which volumes are added up


@dataclass(frozen=True, eq=False)
class Column:
    """Ground cut into boxes: `grid` of the map, `z` (nz,) [m] middles of layers, rising.

    `wet` (n, nz) is the share of each box of the n nodes that lies in the domain, below the top
    and above the base [-]; `box_m3` [m3] is the volume of a whole box.
    """

    grid: Grid
    z: Array
    wet: Array
    box_m3: float

    @property
    def points(self) -> Array:
        """Middles of the boxes, nodes first, shape (n * nz, 3) [m]."""
        xy = self.grid.nodes
        return np.column_stack(
            [np.repeat(xy, len(self.z), axis=0), np.tile(self.z, len(xy))[:, None]]
        )


def column_of(
    site: Site, domain: MultiPolygon, *, cells: int = VOLUME_CELLS, layers: int = DEPTH_CELLS
) -> Column:
    """The ground below the domain from the water level to the bottoms of the holes, in boxes.

    Parameters
    ----------
    site : Site
        Gives ground, heads and holes.
    domain : MultiPolygon
        Area of the map [m].
    cells, layers : int [-]
        About how many boxes on the map, and exactly how many over depth.

    Returns
    -------
    Column
        Boxes [m3] and the share of each that counts [-].
    """
    import shapely

    grid = grid_over(domain, cells=cells)
    xy = grid.nodes
    top, base = top_and_base(site, xy)
    edges = np.linspace(base.min(), max(top.max(), base.min() + 1.0), layers + 1)
    overlap = np.minimum(edges[1:], top[:, None]) - np.maximum(edges[:-1], base[:, None])
    half = grid.cell_m / 2
    squares = shapely.box(xy[:, 0] - half, xy[:, 1] - half, xy[:, 0] + half, xy[:, 1] + half)
    share = shapely.area(shapely.intersection(squares, domain)) / grid.cell_m**2
    step = float(edges[1] - edges[0])
    wet = np.clip(overlap / step, 0.0, 1.0) * share[:, None]
    return Column(grid, (edges[1:] + edges[:-1]) / 2, wet, step * grid.cell_m**2)


def top_and_base(site: Site, xy: Array) -> tuple[Array, Array]:
    """Top and base of the ground that counts: water level below ground, and bottoms of holes.

    Parameters
    ----------
    site : Site
        Gives ground, heads and holes.
    xy : Array, shape (n, 2) [m]
        Map points.

    Returns
    -------
    top, base : Array, shape (n,) [m]
        Elevations; the top is never below the base.
    """
    base = bottoms_of(site).at(xy)
    water = water_of(site)
    top = ground_of(site).at(xy)
    if water is not None:
        top = np.minimum(top, water.at(xy))
    return np.maximum(top, base), base


def simulated(
    field: MappedField, column: Column, *, realisations: int, rng: np.random.Generator
) -> NDArray[np.bool_] | None:
    """Which boxes exceed the criterion in each simulated field.

    Parameters
    ----------
    field : MappedField
        With a criterion.
    column : Column
        Boxes.
    realisations : int [-]
        How many fields; 0 for none.
    rng : Generator
        Source of randomness.

    Returns
    -------
    Array of bool, shape (realisations, n, nz) [-], or None
        None where the field cannot be simulated or nothing was asked for.
    """
    simulate = getattr(field, "simulate", None)
    # a field hands simulation on to its fitted model, and not every model can
    able = hasattr(getattr(field, "model", field), "simulate")
    if simulate is None or not able or realisations < 1 or field.criterion is None:
        return None
    drawn = simulate(column.points, realisations=realisations, rng=rng)
    return np.asarray(drawn > field.criterion).reshape(realisations, *column.wet.shape)


def expected_volume(field: MappedField, column: Column) -> float:
    """Expected volume above the criterion: probability times volume, added up.

    Parameters
    ----------
    field : MappedField
        With a criterion.
    column : Column
        Boxes.

    Returns
    -------
    float [m3]
        Expected volume.
    """
    probability = field.exceedance(column.points).reshape(column.wet.shape)
    return float(np.sum(probability * column.wet) * column.box_m3)


def volume_range(
    expected_m3: float, column: Column, drawn: NDArray[np.bool_] | None
) -> tuple[float | None, float | None]:
    """10 and 90 % quantile of the volume above the criterion.

    Parameters
    ----------
    expected_m3 : float [m3]
        Expected volume; simulated volumes are scaled so that their mean agrees with it.
    column : Column
        The boxes that were simulated; they may be coarser than those of the expected volume.
    drawn : Array of bool, shape (realisations, n, nz) [-], or None
        From `simulated`.

    Returns
    -------
    tuple of float or None [m3]
        None without simulated fields, or where none of them exceeds anywhere.
    """
    if drawn is None:
        return None, None
    each = np.tensordot(drawn, column.wet, axes=2)
    if not each.any():
        return None, None
    low, high = np.quantile(each, [0.1, 0.9]) * (expected_m3 / each.mean())
    return float(low), float(high)
