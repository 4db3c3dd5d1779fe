"""Cubic splines on knots an equal step apart, many at a time: a fit asks thousands of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from geoprofile.hydraulics.compiled import along_columns, along_curves
from geoprofile.hydraulics.tests import Array


@dataclass(frozen=True, eq=False)
class Splines:
    """One spline in each of r columns: `low` and `high` of the first and last knot, `step`, `power`
    (4, m, r, 2) with the highest power first, real and imaginary parts.
    """

    low: float
    high: float
    step: float
    power: Array

    @classmethod
    def through(cls, knots: Array, values: NDArray[np.complex128]) -> Splines:
        """Through values (m + 1, r) at equal knots (m + 1,)."""
        spline = CubicSpline(knots, values)
        step = float(knots[1] - knots[0])
        power = np.ascontiguousarray(spline.c).view(np.float64)
        return cls(float(knots[0]), float(knots[-1]), step, power.reshape(*spline.c.shape, 2))

    def at(self, x: Array) -> NDArray[np.complex128]:
        """Each column at places (n, r) of its own, those beyond the knots as at their end."""
        inside = np.maximum(x, self.low)
        np.minimum(inside, self.high, out=inside)
        out = np.empty((*x.shape, 2))
        along_columns(out, self.low, self.step, self.power, inside)
        return out.view(np.complex128)[..., 0]


@lru_cache(maxsize=4)
def _slopes(count: int) -> Array:
    """From values at `count` knots one apart to slopes of the spline there, (count, count)."""
    spline: Any = CubicSpline(np.arange(count), np.eye(count))
    return np.asarray(spline(np.arange(count), 1))


@dataclass(frozen=True, eq=False)
class Curves:
    """Splines through `value` (c, m) with `slope` (c, m) per step, at m equal knots from `low`."""

    low: float
    step: float
    value: Array
    slope: Array

    @classmethod
    def through(cls, knots: Array, values: Array) -> Curves:
        """Through values (c, m) at equal knots (m,)."""
        return cls(
            float(knots[0]),
            float(knots[1] - knots[0]),
            values,
            values @ _slopes(knots.size).T,
        )

    def at(self, x: Array) -> tuple[Array, Array]:
        """Values and slopes of every curve, shape (c, n), at places (n,)."""
        values, slopes = np.empty((2, len(self.value), x.size))
        along_curves(values, slopes, self.low, self.step, self.value, self.slope, x)
        return values, slopes
