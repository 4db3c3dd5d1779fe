"""Where the bands of maps and sections divide, and what the legend says of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PROBABILITY_EDGES = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
EXTENT_PROBABILITIES = (0.1, 0.5, 0.9)
MOST_LEVELS = 12
POWERS_OF_TEN = ("m/s", "m2/s")
SHOWN_UNITS = {"ug/L": "µg/L", "m2": "m²", "m3": "m³", "m2/s": "m²/s"}


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
        return np.log10(values) if self.logarithmic else values


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


def band_label(lower: float, upper: float, unit: str) -> str:
    """What the legend says of a band.

    Parameters
    ----------
    lower, upper : float [unit]
        Infinite, or 0 below, where the band is open.
    unit : str
        Unit symbol of the schema; "1" for a probability [-].

    Returns
    -------
    str
        For example "3 to 10 µg/L", "< 0.5 µg/L" or "50 to 70 %".
    """
    if unit == "1":
        return f"{100 * lower:.0f} to {100 * upper:.0f} %"
    shown = SHOWN_UNITS.get(unit, unit)
    if not math.isfinite(lower):
        return f"< {tidy(upper, unit)} {shown}"
    if not math.isfinite(upper):
        return f"> {tidy(lower, unit)} {shown}"
    return f"{tidy(lower, unit)} to {tidy(upper, unit)} {shown}"


def tidy(value: float, unit: str = "") -> str:
    """A number for people: powers of ten for K, else only where plain figures would be long.

    Parameters
    ----------
    value : float [any unit]
        Any finite number.
    unit : str
        Unit symbol of the schema, where it matters for the form.

    Returns
    -------
    str
        For example "3e-6", "0.5", "30"; "1e-3" for m/s.
    """
    plain = value == 0 or 1e-3 <= abs(value) < 1e5
    if plain and unit not in POWERS_OF_TEN:
        return f"{value:g}"
    mantissa, exponent = f"{value:.2e}".split("e")
    return f"{float(mantissa):g}e{int(exponent)}"
