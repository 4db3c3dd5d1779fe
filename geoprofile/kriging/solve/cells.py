"""Cells to predict, and how they are cut into blocks of neighbours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import UsageError
from geoprofile.kriging.covariance.anisotropy_frame import Frame
from geoprofile.kriging.solve.blocks import BLOCKS_PER_TASK, CELLS
from geoprofile.kriging.solve.local import COMPACT, compact_order

Array = NDArray[np.float64]
Index = NDArray[np.intp]


class Cells(Protocol):
    """Targets in blocks; the blocks are the same whoever computes them."""

    def __len__(self) -> int:
        """Number of cells."""

    def cut(self, frame: Frame, *, compact: bool) -> Blocks:
        """Blocks, of cells that lie close together in the frame where `compact`."""


class Blocks(Protocol):
    """A way to cut cells."""

    def __len__(self) -> int:
        """Number of blocks."""

    def rows(self, block: int) -> Index:
        """Where a block's cells stand among all, shape (m,)."""

    def places(self, rows: Index) -> Array:
        """Easting, northing, elevation of cells, shape (m, 3) [m]."""


@dataclass(frozen=True, eq=False)
class Places:
    """Cells one by one: `xyz` (n, 3) [m] easting, northing, elevation."""

    xyz: Array

    def __len__(self) -> int:
        """Number of cells."""
        return len(self.xyz)

    def cut(self, frame: Frame, *, compact: bool) -> Blocks:
        """As they come, or so that the cells of each block lie close together."""
        if compact:
            return _Ordered(self.xyz, compact_order(frame.place(self.xyz), COMPACT), COMPACT)
        return _Ordered(self.xyz, np.arange(len(self)), CELLS)


@dataclass(frozen=True, eq=False)
class _Ordered:
    """Cells in an order, cut every `size` [-]."""

    xyz: Array
    order: Index
    size: int

    def __len__(self) -> int:
        return -(-len(self.order) // self.size)

    def rows(self, block: int) -> Index:
        return self.order[block * self.size : (block + 1) * self.size]

    def places(self, rows: Index) -> Array:
        return self.xyz[rows]


@dataclass(frozen=True)
class Lattice:
    """Cells of a regular grid, never written out as a whole.

    `origin` [m] is the middle of the first cell, `step` [m] the way to the next along each axis,
    `count` [-] how many there are: easting, northing, elevation. Easting runs fastest, so that
    values of shape (n,) take the shape (nz, ny, nx).
    """

    origin: tuple[float, float, float]
    step: tuple[float, float, float]
    count: tuple[int, int, int]

    def __post_init__(self) -> None:
        """Refuse what is no grid."""
        numbers = (*self.origin, *self.step)
        if min(self.count) < 1 or not np.isfinite(numbers).all() or 0.0 in self.step:
            raise UsageError(
                "lattice",
                f"counts {self.count}, steps {self.step}, origin {self.origin}",
                "counts of 1 or more, and finite numbers with steps other than 0",
                "Give the middle of the first cell, the steps and the counts along x, y, z.",
            )

    def __len__(self) -> int:
        """Number of cells."""
        return prod(self.count)

    def cut(self, frame: Frame, *, compact: bool) -> Blocks:
        """Boxes of up to so many cells, about as wide one way as another in the frame."""
        most = COMPACT if compact else CELLS
        widths = np.linalg.norm(frame.turn(np.diag(self.step)), axis=1)
        sides = np.array(self.count)
        while prod(sides.tolist()) > most:
            longest = int(np.argmax(np.where(sides > 1, sides * widths, -1.0)))
            sides[longest] = -(-sides[longest] // 2)
        return _Boxes(self, tuple(sides.tolist()))


@dataclass(frozen=True, eq=False)
class _Boxes:
    """Boxes of a lattice, `sides` cells along easting, northing, elevation."""

    lattice: Lattice
    sides: tuple[int, int, int]

    @property
    def shape(self) -> tuple[int, ...]:
        """Boxes along easting, northing, elevation."""
        pairs = zip(self.lattice.count, self.sides, strict=True)
        return tuple(-(-count // side) for count, side in pairs)

    def __len__(self) -> int:
        return prod(self.shape)

    def rows(self, block: int) -> Index:
        corner = np.unravel_index(block, self.shape)
        x, y, z = (
            np.arange(int(at) * side, min((int(at) + 1) * side, count))
            for at, side, count in zip(corner, self.sides, self.lattice.count, strict=True)
        )
        along, across, _ = self.lattice.count
        return np.asarray((z[:, None, None] * across + y[:, None]) * along + x).ravel()

    def places(self, rows: Index) -> Array:
        steps = np.column_stack(np.unravel_index(rows, self.lattice.count[::-1])[::-1])
        return np.asarray(np.array(self.lattice.origin) + steps * self.lattice.step)


def cells_of(targets: Array | Lattice) -> Cells:
    """Targets as cells.

    Parameters
    ----------
    targets : Array, shape (n, 3) [m], or Lattice
        Easting, northing, elevation.

    Returns
    -------
    Cells
        To be cut.
    """
    if isinstance(targets, Lattice):
        return targets
    return Places(np.atleast_2d(np.asarray(targets, dtype=float)))


def tasks(blocks: Blocks) -> Iterator[list[Index]]:
    """Rows of some blocks at a time, so many that handing them out costs nothing.

    Parameters
    ----------
    blocks : Blocks
        Of all cells [-].

    Yields
    ------
    list of Array of int, shape (m,) [-]
        Rows of each block of the task.
    """
    for first in range(0, len(blocks), BLOCKS_PER_TASK):
        last = min(first + BLOCKS_PER_TASK, len(blocks))
        yield [blocks.rows(block) for block in range(first, last)]
