"""Maps of soil gas: which depths, which bands, and what stays blank."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.drawing.levels import Bandwidth, levels_of
from geoprofile.errors import UsageError
from geoprofile.geometry.contours import above, polygons
from geoprofile.geometry.grids import Grid, grid_over
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.boreholes.surfaces import ground_of, water_of
from geoprofile.products.maps.blanks import SLIVER, Blank, Limits, distance_to_data
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.maps.mapping import PROBABILITY_BANDWIDTH, band_rows
from geoprofile.schema.soil_gas import GAS_UNIT

if TYPE_CHECKING:
    from geoprofile import kriging
    from geoprofile.products.model.inputs import Evidence
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
STEP_M = 0.25  # [m] to which depths of maps are rounded
MOST_DEPTHS = 3


@dataclass(frozen=True, eq=False)
class GasField:
    """The model of a substance in gas, with the user's criterion for gas [ug/m3] or None."""

    evidence: Evidence
    model: kriging.Model
    criterion: float | None

    @property
    def quantity(self) -> str:
        """Substance and medium."""
        return self.evidence.quantity

    @property
    def round(self) -> str | None:
        """Campaign."""
        return self.evidence.round


def gas_bandwidth(field: Evidence) -> Bandwidth:
    """Bands round what was measured in gas, the same at all depths.

    Parameters
    ----------
    field : Evidence
        On the log10 scale.

    Returns
    -------
    Bandwidth
        Levels [ug/m3].
    """
    value, limit = 10.0 ** np.asarray(field.data.value), 10.0 ** np.asarray(field.data.upper)
    levels = levels_of(
        field.quantity, value[np.isfinite(value)].tolist(), limit[np.isfinite(limit)].tolist()
    )
    return Bandwidth("median", GAS_UNIT, tuple(levels), True)


def sampled_depths(site: Site, field: Evidence) -> Array:
    """Depth below ground of the middle of every interval with gas.

    Parameters
    ----------
    site : Site
        Gives intervals and ground.
    field : Evidence
        Names the intervals.

    Returns
    -------
    Array, shape (n,) [m]
        Vertical, positive down.
    """
    lines = interval_lines(site)
    middles = np.array([0.5 * (lines[i][0] + lines[i][-1]) for i in field.intervals])
    return np.asarray(ground_of(site).at(middles[:, :2]) - middles[:, 2])


def sampled_span(site: Site, field: Evidence) -> tuple[float, float]:
    """Depths below ground between which gas was sampled.

    Parameters
    ----------
    site : Site
        Gives intervals and ground.
    field : Evidence
        Names the intervals.

    Returns
    -------
    tuple of float [m]
        Top of the shallowest interval and bottom of the deepest, vertical, positive down.
    """
    lines = interval_lines(site)
    ends = np.vstack([lines[i][[0, -1]] for i in field.intervals])
    depth = ground_of(site).at(ends[:, :2]) - ends[:, 2]
    return float(depth.min()), float(depth.max())


def depths_of(site: Site, field: GasField, wanted: Sequence[float]) -> list[float]:
    """The depths asked for, or up to three at which gas was sampled.

    Parameters
    ----------
    site : Site
        Gives intervals and ground.
    field : GasField
        Names the intervals.
    wanted : sequence of float [m]
        May be empty.

    Returns
    -------
    list of float [m]
        From shallow to deep.

    Raises
    ------
    UsageError
        A depth above ground.
    """
    if len(wanted):
        if min(float(d) for d in wanted) < 0:
            raise UsageError(
                "site.toml [soil_gas] depths_m",
                f"{min(float(d) for d in wanted):g} m",
                "depths below ground, positive down",
                "Write the depth without a sign.",
            )
        return sorted(float(d) for d in wanted)
    steps = np.round(sampled_depths(site, field.evidence) / STEP_M, 3)  # rid of the last digits
    depth = STEP_M * np.maximum(np.floor(steps + 0.5), 1.0)
    known = np.unique(depth)
    if len(known) > MOST_DEPTHS:
        known = np.unique(np.percentile(depth, [10, 50, 90], method="nearest"))
    return [float(d) for d in known]


def maps_of(
    site: Site, field: GasField, depths_m: Sequence[float], limits: Limits, cell_m: float
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Bands and blanks of a substance at depths below ground.

    Parameters
    ----------
    site : Site
        Gives ground, water level and area.
    field : GasField
        What is mapped.
    depths_m : sequence of float [m]
        Below ground.
    limits : Limits
        Distance [m] and spread [-].
    cell_m : float [m]
        Width of a grid cell; 0 from the extent.

    Returns
    -------
    tuple of list of dict
        Rows of `soil_gas_band` and of `soil_gas_blank`.
    """
    domain = domain_of(site)
    grid = grid_over(domain, cell_m=cell_m)
    width = gas_bandwidth(field.evidence)
    ground = ground_of(site).at(grid.nodes)
    bands: list[dict[str, Any]] = []
    blanks: list[dict[str, Any]] = []
    for depth in depths_m:
        points = np.column_stack([grid.nodes, ground - depth])
        found = field.model.predict(points)
        names = {"quantity": field.quantity, "round": field.round, "depth_m": depth}
        left = domain
        for reason, limit, unit, room in _rooms(site, field, points, limits, found.sd):
            kept = above(grid.x, grid.y, grid.spread(room), 0.0, left)
            shape = polygons(left.difference(kept))
            left = kept
            if shape.area > SLIVER * domain.area:
                blanks.append({**names, **Blank(reason, limit, unit, shape).columns})
        if left.is_empty:
            continue
        for one, values in _shown(field, grid, points, width, found.mean):
            rows = band_rows(grid.x, grid.y, values, width=one, domain=left)
            bands += [{**row, **names} for row in rows]
    return bands, blanks


def _shown(
    field: GasField, grid: Grid, points: Array, width: Bandwidth, mean: Array
) -> Iterator[tuple[Bandwidth, Array]]:
    """The median, and the chance of exceeding the criterion where the user gave one for gas."""
    yield width, grid.spread(10.0**mean)
    if field.criterion is not None and field.criterion > 0:
        chance = field.model.exceedance(points, float(np.log10(field.criterion)))
        yield PROBABILITY_BANDWIDTH, grid.spread(chance)


def _rooms(
    site: Site, field: GasField, points: Array, limits: Limits, sd: Array
) -> Iterator[tuple[str, float | None, str | None, Array]]:
    """Reasons with limit and unit, and at every node what is left before it holds."""
    water = water_of(site)
    if water is not None:
        yield "below the water level", None, None, points[:, 2] - water.at(points[:, :2])
    if limits.farthest_m > 0:
        away = distance_to_data(site, field, points)
        yield "far from data", limits.farthest_m, "m", limits.farthest_m - away
    if limits.most_sd > 0:
        yield "uncertain", limits.most_sd, "log10", limits.most_sd - sd
