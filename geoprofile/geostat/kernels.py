"""The three loops that everybody pays for, compiled when numba is there, else in numpy.

Targets come as rows (N, 3), data as (G, 3, n): the inner loop runs over contiguous data and uses a
polynomial exponential, so that it fills whole vector registers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# exp(x) = 2^k exp(r): k ln 2 is taken off in two parts (Cody & Waite 1980), then a Taylor series.
LOG2_E = 1.4426950408889634
LN2_HIGH = 6.93147180369123816490e-01
LN2_LOW = 1.90821492927058770002e-10
TINY = 1e-30
MOST_KNOWN = 1.0 - 1e-9


def _fill_numpy(targets: Array, points: Array, weights: Array, shape: Array, out: Array) -> None:
    """`fill` without numba."""
    c1, c2, c3, decay, cut = shape
    out[:] = 0.0
    for place, weight in zip(points, weights, strict=True):
        h = np.zeros_like(out)
        for axis in range(3):
            h += (targets[:, axis, None] - place[axis][None, :]) ** 2
        np.minimum(np.sqrt(h, out=h), cut, out=h)
        out += weight * (1.0 + h * (c1 + h * (c2 + h * c3))) * np.exp(-decay * h)


def _slopes_numpy(points: Array, weights: Array, shape: Array, factor: Array) -> Array:
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


def _gains_numpy(
    half_square: Array, known: Array, added: Array, node: Array, weight: Array, out: Array
) -> None:
    """`gains` without numba."""
    low = _stretched(known)[:, None]
    width = _stretched(np.minimum(known[:, None] + added, MOST_KNOWN)) - low
    out[:] = 0.0
    for x, w in zip(node, weight, strict=True):
        s = low + width * x
        q = 1.0 - s
        power = -half_square[:, None] * (1.0 + (q / (s + TINY)) ** 2)
        out += w * np.exp(np.maximum(power, -700.0)) / (q * q + s * s)
    out *= width / np.pi


def _stretched(share: Array) -> Array:
    """Share of variance to the variable of integration, w/(1+w) with w^2 = share/(1-share)."""
    w = np.sqrt(share / (1.0 - share))
    return np.asarray(w / (1.0 + w))


def _compiled() -> tuple[Callable[..., Any], ...]:
    """All kernels compiled (on first call); ImportError when numba is missing."""
    import numba

    # Python's check for division by zero would keep the loops from filling vector registers.
    loose = {"contract", "reassoc", "nsz"}

    @numba.njit(nogil=True, cache=True, fastmath=loose, inline="always")
    def power(x: float) -> float:
        """exp(x) for -700 <= x <= 0; relative error below 1e-14."""
        k = np.int64(x * LOG2_E - 0.5)
        r = x - k * LN2_HIGH
        r -= k * LN2_LOW
        s = 1.0 + r * (1.0 / 11.0)
        s = 1.0 + r * 0.1 * s
        s = 1.0 + r * (1.0 / 9.0) * s
        s = 1.0 + r * 0.125 * s
        s = 1.0 + r * (1.0 / 7.0) * s
        s = 1.0 + r * (1.0 / 6.0) * s
        s = 1.0 + r * 0.2 * s
        s = 1.0 + r * 0.25 * s
        s = 1.0 + r * (1.0 / 3.0) * s
        s = 1.0 + r * 0.5 * s
        s = 1.0 + r * s
        return s * np.int64((k + 1023) << 52).view(np.float64)

    @numba.njit(nogil=True, cache=True, fastmath=loose, error_model="numpy")
    def fill(targets: Array, points: Array, weights: Array, shape: Array, out: Array) -> None:
        c1, c2, c3, decay, cut = shape[0], shape[1], shape[2], shape[3], shape[4]
        for i in range(out.shape[0]):
            x, y, z = targets[i, 0], targets[i, 1], targets[i, 2]
            row = out[i]
            row[:] = 0.0
            for g in range(points.shape[0]):
                w = weights[g]
                xs, ys, zs = points[g, 0], points[g, 1], points[g, 2]
                for j in range(row.size):
                    a, b, c = x - xs[j], y - ys[j], z - zs[j]
                    h = min(np.sqrt(a * a + b * b + c * c), cut)
                    row[j] += w * (1.0 + h * (c1 + h * (c2 + h * c3))) * power(-decay * h)

    @numba.njit(nogil=True, cache=True, fastmath=loose, error_model="numpy")
    def slopes(points: Array, weights: Array, shape: Array, factor: Array) -> Array:
        c1, c2, c3, decay, cut = shape[0], shape[1], shape[2], shape[3], shape[4]
        aa, bb, cc, ab, bc = 0.0, 0.0, 0.0, 0.0, 0.0
        for i in range(factor.shape[0]):
            row = factor[i]
            for g1 in range(points.shape[0]):
                x, y, z = points[g1, 0, i], points[g1, 1, i], points[g1, 2, i]
                for g2 in range(points.shape[0]):
                    w = weights[g1] * weights[g2]
                    xs, ys, zs = points[g2, 0], points[g2, 1], points[g2, 2]
                    for j in range(i):
                        a, b, c = x - xs[j], y - ys[j], z - zs[j]
                        h = min(np.sqrt(a * a + b * b + c * c), cut)
                        cubic = 1.0 + h * (c1 + h * (c2 + h * c3))
                        slope = c1 + h * (2.0 * c2 + h * 3.0 * c3) - decay * cubic
                        pull = w * row[j] * slope * power(-decay * h) / (h + TINY)
                        aa += pull * a * a
                        bb += pull * b * b
                        cc += pull * c * c
                        ab += pull * a * b
                        bc += pull * b * c
        return 2.0 * np.array([aa, bb, cc, ab, bc])

    @numba.njit(nogil=True, cache=True, fastmath=loose, error_model="numpy")
    def gains(
        half_square: Array, known: Array, added: Array, node: Array, weight: Array, out: Array
    ) -> None:
        width = np.empty(out.shape[1])
        for i in range(out.shape[0]):
            w = np.sqrt(known[i] / (1.0 - known[i]))
            low = w / (1.0 + w)
            square = half_square[i]
            row, more = out[i], added[i]
            row[:] = 0.0
            for j in range(row.size):
                share = min(known[i] + more[j], MOST_KNOWN)
                w = np.sqrt(share / (1.0 - share))
                width[j] = w / (1.0 + w) - low
            for g in range(node.size):
                x, part = node[g], weight[g] / np.pi
                for j in range(row.size):
                    s = low + width[j] * x
                    q = 1.0 - s
                    ratio = q / (s + TINY)
                    falling = power(max(-square * (1.0 + ratio * ratio), -700.0))
                    row[j] += part * width[j] * falling / (q * q + s * s)

    return fill, slopes, gains


try:
    fill, slopes, gains = _compiled()
except ImportError:  # a machine without numba: same numbers, ten times slower
    fill, slopes, gains = _fill_numpy, _slopes_numpy, _gains_numpy
