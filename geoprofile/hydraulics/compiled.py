"""Loops that a fit of a recovery goes through thousands of times, compiled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def along_columns(low: float, step: float, power: Complex, x: Array) -> Complex:
    """Cubic splines with equal knots, a place of its own for each column.

    Parameters
    ----------
    low, step : float [-]
        First knot and distance to the next.
    power : Array, shape (4, m, r) complex [-]
        Cubics of m cells, the highest power first.
    x : Array, shape (n, r) [-]
        Places.

    Returns
    -------
    Array, shape (n, r) complex [-]
        Values.
    """
    out = np.empty(x.shape, dtype=np.complex128)
    last = power.shape[1] - 1
    for i in range(x.shape[0]):
        for k in range(x.shape[1]):
            cell = min(max(int((x[i, k] - low) / step), 0), last)
            beyond = x[i, k] - (low + step * cell)
            value = beyond * power[0, cell, k] + power[1, cell, k]
            value = beyond * value + power[2, cell, k]
            out[i, k] = beyond * value + power[3, cell, k]
    return out


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def along_curves(
    low: float, step: float, value: Array, slope: Array, x: Array
) -> tuple[Array, Array]:
    """Cubic splines with equal knots, and their slopes.

    Parameters
    ----------
    low, step : float [-]
        First knot and distance to the next.
    value, slope : Array, shape (c, m) [-]
        At the knots; slopes per step.
    x : Array, shape (n,) [-]
        Places.

    Returns
    -------
    tuple of Array, shape (c, n) [-]
        Values and slopes of every curve.
    """
    curves, last = value.shape[0], value.shape[1] - 2
    out, rise = np.empty((curves, x.size)), np.empty((curves, x.size))
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
    return out, rise
