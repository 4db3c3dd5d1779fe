"""Loops that a fit of a recovery goes through thousands of times, compiled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled

Array = NDArray[np.float64]


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def along_columns(out: Array, low: float, step: float, power: Array, x: Array) -> None:
    """Cubic splines with equal knots, a place of its own for each pair of columns.

    Parameters
    ----------
    out : Array, shape (n, r, 2) [-]
        Takes the values; to make it here would take longer to compile than the loop.
    low, step : float [-]
        First knot and distance to the next.
    power : Array, shape (4, m, r, 2) [-]
        Cubics of m cells, the highest power first: real and imaginary parts.
    x : Array, shape (n, r) [-]
        Places.

    Returns
    -------
    None [-]
        `out` is filled.
    """
    last = power.shape[1] - 1
    for i in range(x.shape[0]):
        for k in range(x.shape[1]):
            cell = min(max(int((x[i, k] - low) / step), 0), last)
            beyond = x[i, k] - (low + step * cell)
            for part in range(2):
                value = beyond * power[0, cell, k, part] + power[1, cell, k, part]
                value = beyond * value + power[2, cell, k, part]
                out[i, k, part] = beyond * value + power[3, cell, k, part]


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def along_curves(
    out: Array, rise: Array, low: float, step: float, value: Array, slope: Array, x: Array
) -> None:
    """Cubic splines with equal knots, and their slopes.

    Parameters
    ----------
    out, rise : Array, shape (c, n) [-]
        Take values and slopes of every curve.
    low, step : float [-]
        First knot and distance to the next.
    value, slope : Array, shape (c, m) [-]
        At the knots; slopes per step.
    x : Array, shape (n,) [-]
        Places.

    Returns
    -------
    None [-]
        `out` and `rise` are filled.
    """
    curves, last = value.shape[0], value.shape[1] - 2
    for i in range(x.size):
        place = (x[i] - low) / step
        cell = min(max(int(place), 0), last)
        t = place - cell
        for c in range(curves):
            left, start, end = value[c, cell], slope[c, cell], slope[c, cell + 1]
            up = value[c, cell + 1] - left
            square, cube = 3.0 * up - 2.0 * start - end, start + end - 2.0 * up
            out[c, i] = left + t * (start + t * (square + t * cube))
            rise[c, i] = (start + t * (2.0 * square + 3.0 * t * cube)) / step
