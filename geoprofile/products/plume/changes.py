"""Change between two rounds: classes of ground that both rounds are sure enough of."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.geometry.contours import above, polygons
from geoprofile.geometry.edges import Chances

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from geoprofile.geometry.grids import Grid

Array: TypeAlias = NDArray[np.float64]


def least_chances(before: Array, now: Array) -> dict[str, Array]:
    """Least chance that each class is right, however the rounds depend on each other.

    Parameters
    ----------
    before, now : Array, any one shape [-]
        Probability of lying above the criterion in each round.

    Returns
    -------
    dict of str to Array, same shape [-]
        By class; negative where the class may be impossible.

    Notes
    -----
    Of two events with chances p and q, both come true with at least p + q - 1.

    References
    ----------
    Frechet (1935), bounds of the chance of two events; from memory.

    Examples
    --------
    With 0.1 before and 0.95 now, the ground was gained with a chance of at least 0.85.
    """
    return {
        "gained": now - before,
        "lost": before - now,
        "above in both": now + before - 1.0,
        "below in both": 1.0 - now - before,
    }


def classes_of(
    before: Chances, now: Chances, *, domain: MultiPolygon, confidence: float
) -> tuple[dict[str, MultiPolygon], float]:
    """Classes that tile the domain, and the change of area that is to be expected.

    Parameters
    ----------
    before, now : Chances
        Probabilities of the two rounds, on the same grid [-].
    domain : MultiPolygon
        Covered by the grid [m].
    confidence : float [-]
        Least chance of a class, at least 0.5.

    Returns
    -------
    dict of str to MultiPolygon
        One shape, possibly empty, for each of `CHANGES`.
    float [m2]
        Expected area above the criterion now less that before, decided or not.
    """
    chances = least_chances(before.probabilities, now.probabilities)
    grid, left = now.grid, domain
    found: dict[str, MultiPolygon] = {}
    for name, values in chances.items():
        found[name] = above(grid.x, grid.y, values, confidence, left)
        left = polygons(left.difference(found[name]))
    found["uncertain"] = left
    return found, _mean_over(domain, grid, chances["gained"]) * domain.area


def _mean_over(domain: MultiPolygon, grid: Grid, values: Array) -> float:
    """Mean of the cells whose middle lies in the domain; 0 where there is none."""
    import shapely

    cells = (values[1:, 1:] + values[1:, :-1] + values[:-1, 1:] + values[:-1, :-1]) / 4.0
    middles = np.meshgrid((grid.x[1:] + grid.x[:-1]) / 2, (grid.y[1:] + grid.y[:-1]) / 2)
    inside = shapely.contains_xy(domain, *middles) & np.isfinite(cells)
    return float(cells[inside].mean()) if inside.any() else 0.0
