"""A plume on the map: where a criterion is exceeded at an elevation, and at any depth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import EXTENT_PROBABILITIES
from geoprofile.geometry.edges import Chances, between, normal_score, traced
from geoprofile.products.maps.columns import (
    DEPTH_CELLS,
    Column,
    counted_ground,
    mass_range,
    simulated,
    volume_range,
)
from geoprofile.products.maps.mapping import ASSUMED_FROM, MappedField

if TYPE_CHECKING:
    from geoprofile.geometry.grids import Grid
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Measured:
    """A plume below a map: `sizes` by name [m3, m2, kg], None where not known; the `chance` (n,) of
    each node at any depth [-], and the `hits` (realisations, n) of the simulated fields, if any.
    """

    sizes: tuple[tuple[str, float | None], ...]
    chance: Array
    hits: NDArray[np.bool_] | None


@dataclass(frozen=True, eq=False)
class PlumeBody:
    """A field over the ground below a map.

    `chance` (n, nz) [-] is the probability of every box of the column, `drawn`
    (realisations, n, nz) [ug/L] the simulated fields, None where there are none.
    """

    field: MappedField
    column: Column
    chance: Array
    drawn: Array | None

    def sizes(self, porosity: Array) -> dict[str, float | None]:
        """Expected volume and dissolved mass above the criterion, with their ranges.

        Parameters
        ----------
        porosity : Array, shape (n, nz) [-]
            Share of each box that is water; no mass if it is not known (0) in any that counts.

        Returns
        -------
        dict
            Columns of `plume_extent` [m3, kg]; None where not known.
        """
        criterion = float(self.field.criterion or 0.0)
        share = self.field.assumed(self.column.points).reshape(self.chance.shape)
        each = self.chance * self.column.wet * self.column.box_m3
        expected = float(each.sum())
        found: dict[str, float | None] = {
            "volume_m3": expected,
            "volume_assumed_m3": float(each[share > ASSUMED_FROM].sum()),
            "open_below_m2": self._open_below(),
        }
        if self.drawn is None:
            return found
        low, high = volume_range(expected, self.column, self.drawn > criterion)
        found |= {"volume_low_m3": low, "volume_high_m3": high}
        if low is not None and (porosity[self.column.wet > 0] > 0).all():
            masses = mass_range(self.drawn, self.column, criterion=criterion, porosity=porosity)
            found |= dict(zip(("mass_low_kg", "mass_kg", "mass_high_kg"), masses, strict=True))
        return found

    def _open_below(self) -> float:
        """Expected area over which the plume reaches the bottoms of the holes [m2]."""
        deep = self.column.deep > 0
        lowest = self.chance[np.arange(len(deep)), np.argmax(deep, axis=1)] * deep.any(axis=1)
        return float(lowest @ self.column.inside) * self.column.grid.cell_m**2

    def anywhere(self) -> Chances:
        """Probability of exceeding somewhere in the column below the map.

        Returns
        -------
        Chances
            Not below that of the likeliest box [-].

        Notes
        -----
        The share of simulated fields that exceed somewhere: a share of k in m counts as
        (k + 1/2) / (m + 1), since no finite number of fields proves a chance of 0 or 1.
        """
        return smooth_chances(self.column.grid, self._somewhere(self.joint()))

    def _somewhere(self, joint: tuple[Array, NDArray[np.bool_]] | None) -> Array:
        if joint is not None:
            return joint[0]
        return np.asarray(np.max(self.chance * (self.column.deep > 0), axis=1))

    def measured(self, porosity: Array) -> Measured:
        """What extents at any depth, volumes and masses are made of.

        Parameters
        ----------
        porosity : Array, shape (n, nz) [-]
            As for `sizes`.

        Returns
        -------
        Measured
            A hundredth of the simulated fields in size.
        """
        joint = self.joint()
        hits = None if joint is None else joint[1]
        return Measured(tuple(self.sizes(porosity).items()), self._somewhere(joint), hits)

    def joint(self) -> tuple[Array, NDArray[np.bool_]] | None:
        """The chance of each node of the map at any depth, and where each simulated field exceeds.

        Returns
        -------
        tuple of Array, shape (n,) [-] and (realisations, n), or None
            None without simulated fields.
        """
        if self.drawn is None:
            return None
        wet = self.column.deep > 0
        hits = np.any((self.drawn > float(self.field.criterion or 0.0)) & wet, axis=2)
        share = (hits.sum(axis=0) + 0.5) / (len(hits) + 1.0)
        return np.maximum(np.max(self.chance * wet, axis=1), share), hits


def smooth_chances(coarse: Grid, chance: Array) -> Chances:
    """Probabilities at the nodes of a coarse grid, drawn through smoothly.

    Parameters
    ----------
    coarse : Grid
        Nodes [m].
    chance : Array, shape (n,) [-]
        At its nodes.

    Returns
    -------
    Chances
        On cells a quarter as wide.
    """
    return Chances(*between(coarse, coarse.spread(normal_score(chance))))


def plume_body(
    field: MappedField, column: Column, *, realisations: int, rng: np.random.Generator
) -> PlumeBody:
    """Evaluate and simulate a field over the ground below a map.

    Parameters
    ----------
    field : MappedField
        With a criterion.
    column : Column
        Boxes [m3].
    realisations : int [-]
        Simulated fields; 0 for none.
    rng : Generator
        Source of randomness.

    Returns
    -------
    PlumeBody
        Probabilities [-] and simulated values [ug/L].
    """
    points = column.points
    drawn = simulated(field, points, realisations=realisations, rng=rng)
    return PlumeBody(
        field,
        column,
        field.exceedance(points).reshape(column.deep.shape),
        None if drawn is None else drawn.reshape(len(drawn), *column.deep.shape),
    )


def at_elevation(field: MappedField, coarse: Grid, elevation_m: float) -> Chances:
    """Probability of exceeding at an elevation.

    Parameters
    ----------
    field : MappedField
        With a criterion.
    coarse : Grid
        Covers the domain [m].
    elevation_m : float [m]
        Of the map.

    Returns
    -------
    Chances
        Exact near the edges of extents [-].
    """
    return traced(coarse, chance_at(field, elevation_m), EXTENT_PROBABILITIES)


def chance_at(field: MappedField, elevation_m: float) -> Callable[[Array], Array]:
    """The probability of exceeding at an elevation, as a function of map points.

    Parameters
    ----------
    field : MappedField
        With a criterion.
    elevation_m : float [m]
        Of the map.

    Returns
    -------
    callable
        Map points, shape (n, 2) [m], to probabilities, shape (n,) [-].
    """

    def evaluate(xy: Array) -> Array:
        return field.exceedance(np.column_stack([xy, np.full(len(xy), elevation_m)]))

    return evaluate


def likeliest_layer(site: Site, field: MappedField) -> Callable[[Array], Array]:
    """The highest probability over depth, as a function of map points.

    Parameters
    ----------
    site : Site
        Gives water level and bottoms of holes, between which layers lie.
    field : MappedField
        With a criterion.

    Returns
    -------
    callable
        Map points, shape (n, 2) [m], to probabilities, shape (n,) [-].
    """
    counted = counted_ground(site)

    def evaluate(xy: Array) -> Array:
        top, base = counted.top_and_base(xy)
        share = (np.arange(DEPTH_CELLS)[:, None] + 0.5) / DEPTH_CELLS
        z = base + share * (top - base)
        points = np.column_stack([np.tile(xy, (DEPTH_CELLS, 1)), z.ravel()])
        return np.asarray(field.exceedance(points).reshape(z.shape).max(axis=0))

    return evaluate
