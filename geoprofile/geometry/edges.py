"""Edges of probability on a map: evaluated where an edge runs, interpolated elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoprofile.geometry.contours import above
from geoprofile.geometry.grids import Grid

if TYPE_CHECKING:
    from shapely import MultiPolygon

Array: TypeAlias = NDArray[np.float64]
FINER = 4  # cells of the fine grid along a cell of the coarse one [-]
SMALL_NODES = 320  # extents of fewer fine nodes are traced on a grid as much finer again [-]
COARSE_CELLS = 1800  # over the bounding box of the domain [-]
CLOSE = 1e-9  # probabilities nearer to 0 or 1 count as this near [-]
REACH = 0.5  # of the range in a cell's neighbourhood by which values inside may exceed it [-]


@dataclass(frozen=True, eq=False)
class Chances:
    """Probabilities on a map, as normal scores: `grid`, and `scores` (ny, nx) [-], NaN outside.

    A score is the normal quantile of the probability. It is nearly linear in the mean of the field,
    so that edges interpolated between scores lie where those of the field do.
    """

    grid: Grid
    scores: Array

    @property
    def probabilities(self) -> Array:
        """The same as probabilities, shape (ny, nx) [-]."""
        from scipy.special import ndtr

        return np.asarray(ndtr(self.scores), dtype=np.float64)

    def extent(self, probability: float, domain: MultiPolygon) -> MultiPolygon:
        """The part of the domain where the probability is higher; rising levels nest.

        Parameters
        ----------
        probability : float [-]
            At the edge.
        domain : MultiPolygon
            Covered by the grid [m].

        Returns
        -------
        MultiPolygon
            Possibly empty, in map coordinates [m].
        """
        level = float(normal_score(probability))
        return above(self.grid.x, self.grid.y, self.scores, level, domain)


def normal_score(probability: ArrayLike) -> Array:
    """Normal quantile of a probability, finite for 0 and 1.

    Parameters
    ----------
    probability : Array, shape (n,) [-]
        From 0 to 1.

    Returns
    -------
    Array, shape (n,) [-]
        0 for one half.
    """
    from scipy.special import ndtri

    return np.asarray(ndtri(np.clip(probability, CLOSE, 1.0 - CLOSE)), dtype=np.float64)


def traced(
    coarse: Grid, evaluate: Callable[[Array], Array], probabilities: Iterable[float]
) -> Chances:
    """Probabilities on a fine grid, evaluated only in coarse cells that an edge may cross.

    Parameters
    ----------
    coarse : Grid
        Covers the domain [m].
    evaluate : callable
        Map points, shape (n, 2) [m], to probabilities, shape (n,) [-].
    probabilities : iterable of float [-]
        Of the edges.

    Returns
    -------
    Chances
        On a grid whose cells are a quarter as wide, or a sixteenth where an extent is small: chords
        cut off more of a small one.

    Notes
    -----
    An edge may cross a cell where its score lies within the range of the cell and its neighbours,
    widened by half: a spot that no node of three by three cells comes near is missed.
    """
    levels = [float(normal_score(p)) for p in probabilities]
    known = coarse.spread(normal_score(evaluate(coarse.nodes)))
    fine, scores = _finer(coarse, known, evaluate, levels)
    small = [level for level in levels if 0 < np.sum(scores > level) < SMALL_NODES]
    if small:
        fine, scores = _finer(fine, scores, evaluate, small)
    return Chances(fine, scores)


def _finer(
    grid: Grid, scores: Array, evaluate: Callable[[Array], Array], levels: list[float]
) -> tuple[Grid, Array]:
    """Scores on a finer grid: evaluated near some levels, between the nodes elsewhere."""
    crossed = _crossed(scores, levels)
    fine, found = between(grid, scores, degree=1)
    wanted = _nodes_of(crossed) & fine.inside
    if wanted.any():
        xx, yy = np.meshgrid(fine.x, fine.y)
        found[wanted] = normal_score(evaluate(np.column_stack([xx[wanted], yy[wanted]])))
    return fine, found


def between(coarse: Grid, values: Array, *, degree: int = 3) -> tuple[Grid, Array]:
    """Values of a coarse grid interpolated onto one whose cells are a quarter as wide.

    Parameters
    ----------
    coarse : Grid
        Nodes [m].
    values : Array, shape (ny, nx) [any unit]
        NaN outside.
    degree : int [-]
        1 for bilinear, 3 for a smooth spline through the nodes.

    Returns
    -------
    Grid
        Lines and nodes [m].
    Array, shape (4 ny - 3, 4 nx - 3) [same unit]
        NaN outside.
    """
    from scipy.ndimage import distance_transform_edt, map_coordinates

    rows, columns = (FINER * (n - 1) + 1 for n in coarse.inside.shape)
    fine = Grid(
        coarse.x[0] + coarse.cell_m / FINER * np.arange(columns),
        coarse.y[0] + coarse.cell_m / FINER * np.arange(rows),
        _nodes_of(_whole(coarse.inside)),
        coarse.cell_m / FINER,
    )
    # the spline needs values outside too: those of the nearest node
    nearest = distance_transform_edt(
        ~np.isfinite(values), return_distances=False, return_indices=True
    )
    places = np.meshgrid(np.arange(rows) / FINER, np.arange(columns) / FINER, indexing="ij")
    found = map_coordinates(values[tuple(nearest)], places, order=degree, mode="nearest")
    return fine, np.where(fine.inside, found, np.nan)


def _crossed(scores: Array, levels: list[float]) -> NDArray[np.bool_]:
    """Cells (ny - 1, nx - 1) that an edge may cross."""
    from scipy.ndimage import maximum_filter, minimum_filter

    low = minimum_filter(np.where(np.isfinite(scores), scores, np.inf), 3, mode="nearest")
    high = maximum_filter(np.where(np.isfinite(scores), scores, -np.inf), 3, mode="nearest")
    low, high = _corners(low, np.minimum), _corners(high, np.maximum)
    with np.errstate(invalid="ignore"):
        wide = REACH * (high - low)
        hit = [(low - wide <= level) & (level <= high + wide) for level in levels]
    return np.asarray(np.any(hit, axis=0) & _whole(np.isfinite(scores)))


def _corners(values: Array, chosen: np.ufunc) -> Array:
    """Smallest or largest of the four corners of every cell."""
    pairs = chosen(values[1:], values[:-1])
    return np.asarray(chosen(pairs[:, 1:], pairs[:, :-1]), dtype=np.float64)


def _whole(known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells whose four corners are known."""
    return known[1:, 1:] & known[1:, :-1] & known[:-1, 1:] & known[:-1, :-1]


def _nodes_of(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fine nodes in or on the border of coarse cells."""
    rows, columns = cells.shape
    nodes = np.zeros((FINER * rows + 1, FINER * columns + 1), dtype=np.bool_)
    wide = np.repeat(np.repeat(cells, FINER, axis=0), FINER, axis=1)
    for down, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
        nodes[down : down + FINER * rows, right : right + FINER * columns] |= wide
    return nodes
