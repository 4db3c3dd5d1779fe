"""A field in the plane of a section, on a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.contours import above
from geoprofile.products.maps.mapping import ASSUMED_FROM, MappedField, Values

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.products.section.sections import Section
    from geoprofile.products.soil_gas.fitted import FittedGas, GasAt


Array: TypeAlias = NDArray[np.float64]

GRID_COLUMNS, GRID_ROWS = 140, 80


@dataclass(frozen=True, eq=False)
class Slice:
    """A field in the plane of a section, on a grid of `s` (nx,) and `z` (nz,) [m].

    `median` (nz, nx) [unit of the field], `log10_sd` (nz, nx) [-], `probability` (nz, nx) [-] of
    lying above the criterion, None without one; `assumed` (nz, nx) [-] is the share of the doubt
    that is about the shape; `shown` is the part of the plane where the field is drawn.
    """

    quantity: str
    round: str | None
    unit: str
    criterion: float | None
    s: Array
    z: Array
    median: Array
    log10_sd: Array
    probability: Array | None
    assumed: Array
    shown: MultiPolygon

    def supported(self, most_sd: float) -> MultiPolygon:
        """Where the field is known better than a spread.

        Parameters
        ----------
        most_sd : float [-]
            Largest standard deviation of log10.

        Returns
        -------
        MultiPolygon
            Within what is shown [m].
        """
        return above(self.s, self.z, -self.log10_sd, -most_sd, self.shown)

    def of_assumed_shape(self) -> MultiPolygon:
        """Where the data do not hold the shape.

        Returns
        -------
        MultiPolygon
            Within what is shown [m]; may be empty.
        """
        return above(self.s, self.z, self.assumed, ASSUMED_FROM, self.shown)


def slice_field(section: Section, mapped: MappedField) -> Slice | None:
    """A field in the plane of a section.

    Parameters
    ----------
    section : Section
        Where.
    mapped : MappedField
        What.

    Returns
    -------
    Slice or None
        On a grid that covers the section's domain [m]; None where the domain is empty.
    """
    if section.domain.is_empty:
        return None
    s, z, points = grid_in(section, section.domain)
    shown = section.part(mapped.quantity)
    return slice_of(mapped, (s, z, points), mapped.at(points), mapped.assumed(points), shown)


def slice_of(
    mapped: MappedField | FittedGas,
    grid: tuple[Array, Array, Array],
    values: Values | GasAt,
    assumed: Array,
    shown: MultiPolygon,
) -> Slice:
    """What a model says of the cells of a grid in the plane.

    Parameters
    ----------
    mapped : MappedField or FittedGas
        What: it gives the chance above its criterion.
    grid : tuple of Array, shape (nx,), (nz,) and (nz nx, 3) [m]
        From `grid_in`.
    values : Values or GasAt
        Its answer for the cells, arrays (nz nx,) [its unit].
    assumed : Array, shape (nz nx,) [-]
        Share of the doubt that is about the shape.
    shown : MultiPolygon
        Where it is drawn [m].

    Returns
    -------
    Slice
        On that grid.
    """
    s, z, points = grid
    shape = (GRID_ROWS, GRID_COLUMNS)
    known = mapped.criterion is not None
    return Slice(
        mapped.quantity,
        mapped.round,
        mapped.unit,
        mapped.criterion,
        s,
        z,
        values.median.reshape(shape),
        values.log10_sd.reshape(shape),
        mapped.exceedance(points).reshape(shape) if known else None,
        assumed.reshape(shape),
        shown,
    )


def grid_in(section: Section, domain: MultiPolygon) -> tuple[Array, Array, Array]:
    """A grid that covers a part of the plane.

    Parameters
    ----------
    section : Section
        Gives the plane.
    domain : MultiPolygon
        Not empty [m].

    Returns
    -------
    s, z : Array, shape (nx,) and (nz,) [m]
        Grid lines: distance and elevation.
    points : Array, shape (nz * nx, 3) [m]
        The nodes on the map, row by row.
    """
    west, low, east, high = domain.bounds
    s, z = np.linspace(west, east, GRID_COLUMNS), np.linspace(low, high, GRID_ROWS)
    distance, elevation = (a.ravel() for a in np.meshgrid(s, z))
    return s, z, section.plane.to_map(distance, elevation)
