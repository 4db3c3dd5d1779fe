"""Where the bands of maps and sections divide, and what the legend says of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoprofile.drawing.symbols import PROBABILITY_LINES, SHOWN_UNITS, tidy
from geoprofile.drawing.symbols import class_words as band_label

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = [
    "EXTENT_PROBABILITIES",
    "PROBABILITY_EDGES",
    "SHOWN_UNITS",
    "Bandwidth",
    "band_label",
    "concentration_levels",
    "flux_levels",
    "levels_of",
    "log_levels",
    "nice_step",
    "tidy",
]

PROBABILITY_EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
EXTENT_PROBABILITIES = tuple(PROBABILITY_LINES)
MOST_LEVELS = 12
LEAST_FLUX = 1e-3  # of the largest flux; smaller fluxes are drawn alike [-]


@dataclass(frozen=True)
class Bandwidth:
    """How a statistic of a field is cut into bands.

    `levels` rise, in `unit`; `logarithmic` tells that contours follow log10 of the values.
    """

    statistic: str
    unit: str
    levels: tuple[float, ...]
    logarithmic: bool

    def scaled(self, values: Array) -> Array:
        """Values on the scale that is contoured, same shape."""
        import numpy as np

        return np.log10(values) if self.logarithmic else values

    @property
    def count(self) -> int:
        """How many classes there are: one more than levels."""
        return len(self.levels) + 1

    def number(self, lower: float | None) -> int:
        """The number of the class that begins at a level; 0 for the one below the first."""
        return 0 if lower is None else self.levels.index(lower) + 1


def log_levels(low: float, high: float) -> list[float]:
    """Round levels 1, 3, 10, ... that lie between two values and one beyond each end.

    Parameters
    ----------
    low, high : float [any unit]
        Smallest and largest value, above 0.

    Returns
    -------
    list of float [same unit]
        Rising; whole decades only where 1-3-10 would give more than twelve.

    Examples
    --------
    log_levels(2, 40) is [1, 3, 10, 30, 100].
    """
    first, last = math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1
    fine = [float(f"{m}e{e}") for e in range(first, last + 1) for m in (1, 3)]
    levels = _between(fine, low, high)
    if len(levels) > MOST_LEVELS:
        levels = _between([v for v in fine if f"{v:e}".startswith("1.0")], low, high)
    return levels


def _between(levels: Sequence[float], low: float, high: float) -> list[float]:
    """The levels from the last at or below `low` to the first at or above `high`."""
    start = max(i for i, v in enumerate(levels) if v <= low)
    end = min(i for i, v in enumerate(levels) if v >= high)
    return list(levels[start : end + 1])


def concentration_levels(limit: float | None, low: float, high: float) -> list[float]:
    """Levels of a concentration map: nothing is told apart below the lowest reporting limit.

    Parameters
    ----------
    limit : float or None [ug/L]
        Lowest reporting limit of the round.
    low, high : float [ug/L]
        Smallest and largest value mapped.

    Returns
    -------
    list of float [ug/L]
        Rising; the first is the limit where there is one.

    Examples
    --------
    concentration_levels(0.5, 0.01, 40) is [0.5, 1, 3, 10, 30, 100].
    """
    if limit is None:
        return log_levels(low, max(high, low * 1.0001))
    # a level too near the limit would make a band that nobody can tell from its neighbours
    return [limit, *(v for v in log_levels(limit, max(high, limit * 3)) if v > 1.5 * limit)]


def levels_of(quantity: str, values: Sequence[float], limits: Sequence[float]) -> list[float]:
    """The levels of a quantity round what was measured, the same in every drawing of a site.

    Parameters
    ----------
    quantity : str
        K, or a substance.
    values, limits : sequence of float [m/s or ug/L]
        Measured values, and limits of what was not detected.

    Returns
    -------
    list of float [m/s or ug/L]
        1, 3, 10, ... round them, and nothing told apart below the lowest reporting limit.
    """
    known = [v for v in (*values, *limits) if v > 0] or [1.0]
    low, high = min(known), max(*known, min(known) * 1.0001)
    if quantity == "K":
        return log_levels(low, high)
    return concentration_levels(min(limits) if limits else None, low, high)


def flux_levels(most: float) -> list[float]:
    """Levels of a mass flux over the decades that matter.

    Parameters
    ----------
    most : float [g/m2/d]
        The largest flux.

    Returns
    -------
    list of float [g/m2/d]
        1, 3, 10, ... from a thousandth of the largest flux to below it.
    """
    most = max(most, 1e-30)
    return [v for v in log_levels(most * LEAST_FLUX, most) if v < most]


def nice_step(span: float, pieces: int) -> float:
    """A round step (1, 2 or 5 times a power of ten) that cuts a span into about so many pieces.

    Parameters
    ----------
    span : float [any unit]
        Above 0.
    pieces : int [-]
        Wanted number; the step is the smallest round one that gives no more.

    Returns
    -------
    float [same unit]
        The step.

    Examples
    --------
    nice_step(33, 5) is 10.
    """
    rough = span / pieces
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1.0, 2.0, 5.0):
        if factor * power >= rough * (1 - 1e-9):
            return float(f"{factor * power:.6g}")
    return float(f"{10 * power:.6g}")
