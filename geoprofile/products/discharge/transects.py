"""Sections cut into cells, and planes parallel to them, for what passes through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry import SectionPlane

if TYPE_CHECKING:
    from geoprofile.products.section.sections import Section

Array: TypeAlias = NDArray[np.float64]
COLUMNS, ROWS = 60, 30
BLOCK = 2  # cells to a side of a block


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of a section below the water, in blocks of a few cells.

    `distance` and `elevation` (n,) [m] are their middles, `points` (n, 3) [m] the same on the map;
    `area` (n,) [m2] lies below the water; `azimuth` (n,) [deg] is that of the line; `column` and
    `row` (n,) number the cells along the line and upwards; `size` is the length and height of a
    cell [m], `corner` the lower left corner of the grid [m].
    """

    distance: Array
    elevation: Array
    points: Array
    area: Array
    azimuth: Array
    column: NDArray[np.int64]
    row: NDArray[np.int64]
    size: tuple[float, float]
    corner: tuple[float, float]

    @property
    def block(self) -> NDArray[np.int64]:
        """Number of each cell's block: by column, each from below, over the whole grid (n,)."""
        return (self.column // BLOCK) * (ROWS // BLOCK) + self.row // BLOCK

    def __len__(self) -> int:
        """How many."""
        return len(self.area)


def cells_of(section: Section) -> Cells:
    """The part of a section below the water level as cells.

    Parameters
    ----------
    section : Section
        Gives plane and water level.

    Returns
    -------
    Cells
        None where the section is dry [m].
    """
    import shapely

    wet = section.wet
    west, low, east, high = (0.0, 0.0, 1.0, 1.0) if wet.is_empty else wet.bounds
    size = ((east - west) / COLUMNS, (high - low) / ROWS)
    column, row = (a.ravel() for a in np.meshgrid(np.arange(COLUMNS), np.arange(ROWS)))
    left, bottom = west + column * size[0], low + row * size[1]
    boxes = shapely.box(left, bottom, left + size[0], bottom + size[1])
    area = shapely.area(shapely.intersection(boxes, wet))
    kept = area > 0
    distance = np.asarray(left[kept] + size[0] / 2, dtype=np.float64)
    elevation = np.asarray(bottom[kept] + size[1] / 2, dtype=np.float64)
    return Cells(
        distance,
        elevation,
        section.plane.to_map(distance, elevation),
        area[kept],
        section.plane.azimuths_at(distance),
        column[kept],
        row[kept],
        size,
        (west, low),
    )


def block_boxes(cells: Cells) -> tuple[NDArray[np.int64], Array]:
    """Numbers of the blocks that hold cells, and their outlines.

    Parameters
    ----------
    cells : Cells
        Of one section.

    Returns
    -------
    numbers : Array, shape (m,) [-]
        Rising: along the line, and upwards in each column.
    boxes : Array, shape (m, 4) [m]
        Left, bottom, right, top in the plane of the section.
    """
    numbers = np.unique(cells.block)
    column, row = np.divmod(numbers, ROWS // BLOCK)
    length, height = BLOCK * cells.size[0], BLOCK * cells.size[1]
    left, bottom = cells.corner[0] + column * length, cells.corner[1] + row * height
    return numbers, np.column_stack([left, bottom, left + length, bottom + height])


def block_sums(cells: Cells, values: Array) -> Array:
    """Values of the cells added up over each block.

    Parameters
    ----------
    cells : Cells
        Of one section.
    values : Array, shape (..., n) [any unit]
        One per cell.

    Returns
    -------
    Array, shape (..., m) [same unit]
        In the order of `block_boxes`.
    """
    order = np.argsort(cells.block, kind="stable")
    starts = np.flatnonzero(np.diff(cells.block[order], prepend=-1))
    return np.asarray(np.add.reduceat(values[..., order], starts, axis=-1))


def interval_means(cells: Cells, log10_values: Array, length_m: float) -> Array:
    """Simulated values as an interval of the site would give them.

    Parameters
    ----------
    cells : Cells
        Of one section.
    log10_values : Array, shape (..., n) [log10 of any unit]
        One per cell, simulated at its middle.
    length_m : float [m]
        Usual length of an interval.

    Returns
    -------
    Array, shape (..., n) [that unit]
        In every column, 10 to the mean of log10 over as many cells as an interval is long.

    Notes
    -----
    The field takes the logarithm of an interval's result as the mean of the logarithm along it. A
    result already is a mean over the interval (of K, or of what the water brings), so that adding
    up 10 to the field at points would count the variation inside an interval twice: on invented
    sites with intervals half as long as K is alike, it overstated discharge by about 5 %.

    Examples
    --------
    Two cells of 1 and 100 in an interval of their length give 10 each.
    """
    together = max(1, round(length_m / cells.size[1]))
    group = cells.column * ROWS + cells.row // together
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order], prepend=-1))
    weighted = np.add.reduceat((log10_values * cells.area)[..., order], starts, axis=-1)
    mean = weighted / np.add.reduceat(cells.area[order], starts)
    number = np.empty(len(cells), dtype=np.int64)
    number[order] = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(cells))))
    return np.asarray(10.0 ** mean[..., number])


def parallel_planes(
    plane: SectionPlane, *, count: int, spacing_m: float, azimuth_deg: float
) -> list[SectionPlane]:
    """The plane itself and others beside it, downstream and upstream in turn.

    Parameters
    ----------
    plane : SectionPlane
        As drawn [m].
    count : int [-]
        Planes in all.
    spacing_m : float [m]
        From one to the next; 0 takes a twentieth of the plane's length.
    azimuth_deg : float [deg]
        Direction of flow, along which they are moved.

    Returns
    -------
    list of SectionPlane
        The drawn one first.

    Examples
    --------
    Three planes 10 m apart lie 0, 10 and -10 m down the flow.
    """
    spacing = spacing_m or plane.length_m / 20
    angle = np.radians(azimuth_deg)
    down = np.array([np.sin(angle), np.cos(angle)])
    steps = [(k + 1) // 2 * (1 if k % 2 else -1) for k in range(count)]
    return [SectionPlane(plane.xy + k * spacing * down) for k in steps]
