"""Variance of a block of cells from the data that matter there, when data are many."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import blas, lapack

if TYPE_CHECKING:
    from geoprofile.kriging.solve.system import Kind, System

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# Up to here the whole factor is as quick, and exact.
MOST_GLOBAL = 600
NEIGHBOURS = 192
# Cells of a block, and of how many on more data matter: fewer factors, and no worse at its ends.
COMPACT, MANY, MORE_NEIGHBOURS = 1024, 512, 208
# A group of cells wider than this, in correlation lengths, needs other data at its two ends.
WIDEST, FEWEST_CELLS = 1.5, 8
# Noise of that share of the sill holds what single precision costs to 2e-3 of an sd, at worst.
LEAST_NOISE = 0.02


def local_explained(system: System, places: Array, basis: Array) -> tuple[Array, Array]:
    """Variance explained by the data nearest to a block, and the basis they do not carry.

    Parameters
    ----------
    system : System
        Of n data [-].
    places : Array, shape (m, 3) [-]
        The block's cells in the frame of the covariance.
    basis : Array, shape (m, r) [-]
        Of the mean at the cells.

    Returns
    -------
    tuple of Array, shape (m,) [log10 squared] and (m, r) [-]
        As from all data, to about 1 % of the standard deviation.

    Notes
    -----
    The mean always uses all data, so nothing jumps; only its variance is local. The uncertainty
    of the mean's coefficients stays that of the whole site.
    """
    explained, rest = np.empty(len(places)), np.empty_like(basis)
    across = np.ascontiguousarray(places.T)
    for cells, middle in _narrow(across, np.arange(len(places))):
        count = MORE_NEIGHBOURS if len(cells) > MANY else NEIGHBOURS
        rows = system.nearest(middle, count)
        found = _from(system, rows, places[cells], basis[cells])
        explained[cells], rest[cells] = found
    return explained, rest


def _from(system: System, rows: Index, places: Array, basis: Array) -> tuple[Array, Array]:
    """The same from some data, in single precision where their noise allows it."""
    noise = system.parameters.nugget + system.layout.variance[rows].min()
    single = noise >= LEAST_NOISE * system.parameters.sill
    kind: Kind = np.float32 if single else np.float64
    factorise, solve = (lapack.spotrf, blas.strsm) if single else (lapack.dpotrf, blas.dtrsm)
    # symmetric: by columns, as LAPACK reads it, it is the same
    lower = factorise(system.covariance(rows).T.astype(kind), lower=1, clean=0, overwrite_a=1)[0]
    half = solve(1.0, lower, system.layout.basis[rows], lower=1)
    near = np.ascontiguousarray(system.scaled[:, :, rows])
    cross = system.cross_placed(places, near, kind)
    # cells as columns lie in memory as BLAS wants them, and are written over
    white = solve(1.0, lower, cross.T, lower=1, overwrite_b=1).T
    return np.einsum("mk,mk->m", white, white), basis - white @ half


def _narrow(across: Array, cells: Index) -> Iterator[tuple[Index, Array]]:
    """Halve a group of cells (3, m) across its longest side until it is narrow, and say where
    its middle lies.
    """
    inside = across.take(cells, axis=1)
    low, high = inside.min(1), inside.max(1)
    span = high - low
    if span.max() <= WIDEST or len(cells) <= FEWEST_CELLS:
        yield cells, 0.5 * (low + high)
        return
    middle = len(cells) // 2
    order = cells[np.argpartition(inside[int(np.argmax(span))], middle)]
    yield from _narrow(across, order[:middle])
    yield from _narrow(across, order[middle:])


def compact_order(places: Array, size: int) -> Index:
    """Order of cells in which every block of `size` lies close together.

    Parameters
    ----------
    places : Array, shape (n, 3) [-]
        Cells in the frame of the covariance.
    size : int [-]
        Cells per block.

    Returns
    -------
    Array of int, shape (n,) [-]
        Positions of the cells, block by block.

    Notes
    -----
    Slabs across the longest axis, sticks across what is then longest, blocks across the rest, as
    many of each as make blocks of equal sides: three sorts, where halving again and again took
    seven times as long.

    References
    ----------
    Leutenegger et al. (1997), sort-tile-recursive packing, from memory.
    """
    across = np.ascontiguousarray(places.T)
    groups = [np.arange(len(places))]
    for axes in (3, 2, 1):
        groups = [part for group in groups for part in _sliced(across, group, axes, size)]
    return np.concatenate(groups)


def _sliced(across: Array, group: Index, axes: int, size: int) -> list[Index]:
    """A group of cells (3, m) in slices across its longest axis, each of whole blocks."""
    blocks = -(-len(group) // size)
    if blocks <= 1:
        return [group]
    inside = across.take(group, axis=1)
    spans = np.ptp(inside, axis=1)
    count = min(_slices(np.sort(spans)[::-1][:axes], blocks), blocks)
    edges = np.rint(np.linspace(0, blocks, count + 1)).astype(int) * size
    order = group[np.argsort(inside[int(np.argmax(spans))])]
    return [order[first:last] for first, last in itertools.pairwise(edges.tolist())]


def _slices(spans: Array, blocks: int) -> int:
    """Slices across the first of falling spans, that blocks have equal sides."""
    for kept in range(len(spans), 0, -1):
        side = (np.prod(spans[:kept]) / blocks) ** (1.0 / kept)
        # an axis along which the cells are thinner than a block is not cut
        if spans[kept - 1] >= side > 0.0:
            return round(float(spans[0] / side))
    return 1
