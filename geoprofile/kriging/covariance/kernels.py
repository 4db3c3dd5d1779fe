"""The loops that everybody pays for, compiled when numba is there, else in numpy.

Targets come as rows (N, 3), data as (G, 3, n): the inner loop runs over contiguous data and uses a
polynomial exponential, so that it fills whole vector registers.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray
from scipy.special import erfcx

Array = NDArray[np.float64]

TINY = 1e-30
MOST_KNOWN = 1.0 - 1e-9
# No gain is counted where a unit adds less than that share, or where half the squared distance from
# the threshold is more than that many times the share known: the integrand is below 1e-6 there.
LEAST_ADDED = 1e-5
REACH = 14.0
# (1 + 2x) exp(x^2) erfc(x) as a polynomial in (x - c)/(x + c) (Shepherd & Laframboise 1981, from
# memory); the coefficients are fitted here, to 2e-12 of the function.
SCALED_CENTRE, SCALED_DEGREE = 3.75, 16


def _fill_plain(targets: Array, points: Array, weights: Array, shape: Array, out: Array) -> None:
    """`fill` without numba."""
    c1, c2, c3, decay, cut = shape
    out[:] = 0.0
    for place, weight in zip(points, weights, strict=True):
        h = np.zeros_like(out)
        for axis in range(3):
            h += (targets[:, axis, None] - place[axis][None, :]) ** 2
        np.minimum(np.sqrt(h, out=h), cut, out=h)
        out += weight * (1.0 + h * (c1 + h * (c2 + h * c3))) * np.exp(-decay * h)


def _slopes_plain(points: Array, weights: Array, shape: Array, factor: Array) -> Array:
    """`slopes` without numba."""
    c1, c2, c3, decay, cut = shape
    sums = np.zeros(5)
    for here, w1 in zip(points, weights, strict=True):
        for there, w2 in zip(points, weights, strict=True):
            a, b, c = here[:, :, None] - there[:, None, :]
            h = np.minimum(np.sqrt(a * a + b * b + c * c), cut)
            cubic = 1.0 + h * (c1 + h * (c2 + h * c3))
            slope = c1 + h * (2.0 * c2 + h * 3.0 * c3) - decay * cubic
            pull = w1 * w2 * factor * slope * np.exp(-decay * h) / (h + TINY)
            sums += [(pull * t).sum() for t in (a * a, b * b, c * c, a * b, b * c)]
    return sums


def _gains_plain(
    half_square: Array, known: Array, added: Array, node: Array, weight: Array, out: Array
) -> None:
    """`gains` without numba."""
    low = _stretched(known)[:, None]
    share = np.minimum(known[:, None] + added, MOST_KNOWN)
    width = _stretched(share) - low
    out[:] = 0.0
    for x, w in zip(node, weight, strict=True):
        s = low + width * x
        q = 1.0 - s
        power = -half_square[:, None] * (1.0 + (q / (s + TINY)) ** 2)
        out += w * np.exp(np.maximum(power, -700.0)) / (q * q + s * s)
    out *= width / np.pi
    out[(added < LEAST_ADDED) | (half_square[:, None] > REACH * share)] = 0.0


def _boxes_plain(
    distance: Array, half: Array, variance: Array, factor: Array, added: Array
) -> None:
    """`boxes` without numba."""
    scale, h, v = 1.0 / np.sqrt(2.0 * variance), half[:, None], np.abs(distance)
    a, b = (h - v) * scale, (h + v) * scale
    near, far = erfcx(np.abs(a)), erfcx(b) * np.exp(-2.0 * h * v / variance)
    inside = 1.0 - 0.5 * np.exp(-a * a) * (near + far)
    factor *= np.where(a < 0.0, 0.5 * (near - far), inside)
    added -= np.where(a < 0.0, a * a, 0.0)


def _scaled_coefficients() -> Array:
    """Of the polynomial in compiled `scaled_erfc`, the highest power first."""
    y = chebyshev.chebpts1(SCALED_DEGREE + 1)
    x = SCALED_CENTRE * (1.0 + y) / (1.0 - y)
    fitted = chebyshev.chebfit(y, (1.0 + 2.0 * x) * erfcx(x), SCALED_DEGREE)
    return np.ascontiguousarray(chebyshev.cheb2poly(fitted)[::-1])


def _stretched(share: Array) -> Array:
    """Share of variance to the variable of integration, w/(1+w) with w^2 = share/(1-share)."""
    w = np.sqrt(share / (1.0 - share))
    return np.asarray(w / (1.0 + w))


fill: Callable[..., None] = _fill_plain
fill_single: Callable[..., None] = _fill_plain
slopes: Callable[..., Array] = _slopes_plain
gains: Callable[..., None] = _gains_plain
boxes: Callable[..., None] = _boxes_plain
try:
    from geoprofile.kriging.covariance import compiled
except ImportError:
    pass  # a machine without numba: same numbers, ten times slower
else:
    fill, fill_single = compiled.fill, compiled.fill_single
    slopes, gains = compiled.slopes, compiled.gains
    boxes = partial(compiled.boxes, _scaled_coefficients())
