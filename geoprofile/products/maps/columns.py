"""The ground below the map cut into boxes: probabilities over depth, volumes and their range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.grids import Grid, grid_over
from geoprofile.products.boreholes.surfaces import Surface, bottoms_of, ground_of, water_of
from geoprofile.products.maps.mapping import MappedField

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
DEPTH_CELLS = 16
VOLUME_CELLS = 900  # map cells of the grid on which volumes are added up
KG_PER_M3 = 1e-6  # [kg/m3] in 1 ug/L


@dataclass(frozen=True, eq=False)
class Column:
    """Ground cut into boxes: `grid` of the map, `z` (nz,) [m] middles of layers, rising.

    `deep` (n, nz) is the share of each box of the n nodes that lies below the top and above the
    base, `inside` (n,) the share of each node's square that lies in the domain [-]; `box_m3` [m3]
    is the volume of a whole box.
    """

    grid: Grid
    z: Array
    deep: Array
    inside: Array
    box_m3: float

    @property
    def wet(self) -> Array:
        """Share of each box that counts, shape (n, nz) [-]."""
        return self.deep * self.inside[:, None]

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
    top, base = counted_ground(site).top_and_base(xy)
    edges = np.linspace(base.min(), max(top.max(), base.min() + 1.0), layers + 1)
    overlap = np.minimum(edges[1:], top[:, None]) - np.maximum(edges[:-1], base[:, None])
    half = grid.cell_m / 2
    squares = shapely.box(xy[:, 0] - half, xy[:, 1] - half, xy[:, 0] + half, xy[:, 1] + half)
    share = shapely.area(shapely.intersection(squares, domain)) / grid.cell_m**2
    step = float(edges[1] - edges[0])
    deep = np.clip(overlap / step, 0.0, 1.0)
    return Column(grid, (edges[1:] + edges[:-1]) / 2, deep, share, step * grid.cell_m**2)


@dataclass(frozen=True, eq=False)
class CountedGround:
    """The ground that counts: below ground level and water, above the bottoms of the holes."""

    ground: Surface
    water: Surface | None
    bottoms: Surface

    def top_and_base(self, xy: Array) -> tuple[Array, Array]:
        """Where it begins and ends.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            Map points.

        Returns
        -------
        top, base : Array, shape (n,) [m]
            Elevations; the top is never below the base.
        """
        base = self.bottoms.at(xy)
        top = self.ground.at(xy)
        if self.water is not None:
            top = np.minimum(top, self.water.at(xy))
        return np.maximum(top, base), base


def counted_ground(site: Site) -> CountedGround:
    """The ground of a site that counts.

    Parameters
    ----------
    site : Site
        Gives ground, heads and holes.

    Returns
    -------
    CountedGround
        Surfaces [m].
    """
    return CountedGround(ground_of(site), water_of(site), bottoms_of(site))


def simulated(
    field: MappedField, points: Array, *, realisations: int, rng: np.random.Generator
) -> Array | None:
    """Equally likely fields at points, where the field can be simulated.

    Parameters
    ----------
    field : MappedField
        Of one quantity.
    points : Array, shape (n, 3) [m]
        Easting, northing, elevation.
    realisations : int [-]
        How many fields; 0 for none.
    rng : Generator
        Source of randomness.

    Returns
    -------
    Array, shape (realisations, n) [unit of the field], or None
        None where the field cannot be simulated or nothing was asked for.
    """
    # a field hands simulation on to its fitted model, and not every model can
    if realisations < 1 or not hasattr(getattr(field, "model", field), "simulate"):
        return None
    return field.simulate(points, realisations=realisations, rng=rng)


def volume_range(
    expected_m3: float, column: Column, above: NDArray[np.bool_]
) -> tuple[float | None, float | None]:
    """10 and 90 % quantile of the volume above the criterion.

    Parameters
    ----------
    expected_m3 : float [m3]
        Expected volume; simulated volumes are scaled so that their mean agrees with it.
    column : Column
        The boxes that were simulated.
    above : Array of bool, shape (realisations, n, nz) [-]
        Which boxes exceed in each simulated field.

    Returns
    -------
    tuple of float or None [m3]
        None where no simulated field exceeds anywhere.
    """
    each = np.tensordot(above, column.wet, axes=2)
    if not each.any():
        return None, None
    low, high = np.quantile(each, [0.1, 0.9]) * (expected_m3 / each.mean())
    return float(low), float(high)


def mass_range(
    drawn: Array, column: Column, *, criterion: float, porosity: Array
) -> tuple[float, float, float]:
    """Mass dissolved in the water of the boxes above the criterion.

    Parameters
    ----------
    drawn : Array, shape (realisations, n, nz) [ug/L]
        Simulated concentrations.
    column : Column
        The boxes that were simulated.
    criterion : float [ug/L]
        Boxes at or below it do not count.
    porosity : Array, shape (n, nz) [-]
        Share of each box that is water.

    Returns
    -------
    tuple of float [kg]
        10, 50 and 90 % quantile over the simulated fields.

    Notes
    -----
    1 ug/L is 1e-6 kg/m3. What sticks to the ground or lies in it as a phase of its own is not in
    the water and not counted.
    """
    counted = np.where(drawn > criterion, drawn, 0.0)
    each = np.tensordot(counted, column.wet * porosity, axes=2) * column.box_m3
    low, middle, high = np.quantile(each * KG_PER_M3, [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)
