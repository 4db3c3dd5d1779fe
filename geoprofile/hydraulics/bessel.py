"""K0(x)/(x K1(x)) for complex x: the only Bessel function that a recovering well needs."""

from __future__ import annotations

import cmath

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import compiled

EULER = 0.5772156649015329  # [-]
SERIES_BELOW = 2.0  # [-] |x| under which the power series is short
MOST_TERMS = 2000  # [-] of the continued fraction
EPS = 1e-16  # [-]


@compiled(nogil=True, error_model="numpy")
def _small(x: complex) -> complex:
    """By power series; K1 from the Wronskian I0 K1 + I1 K0 = 1/x."""
    quarter = 0.25 * x * x
    term, i0, i1, rest, harmonic = 1.0 + 0.0j, 1.0 + 0.0j, 1.0 + 0.0j, 0.0j, 0.0
    for k in range(1, 60):
        term *= quarter / (k * k)
        harmonic += 1.0 / k
        i0 += term
        i1 += term / (k + 1)
        rest += term * harmonic
        if abs(term) * harmonic < EPS:
            break
    i1 *= 0.5 * x
    k0 = rest - (cmath.log(0.5 * x) + EULER) * i0
    return k0 * i0 / (1.0 - x * i1 * k0)


@compiled(nogil=True, error_model="numpy")
def _large(x: complex) -> complex:
    """By Temme's continued fraction for K1/K0."""
    b = 2.0 * (1.0 + x)
    d = 1.0 / b
    h = d
    step = d
    a = -0.25
    for i in range(2, MOST_TERMS):
        a -= 2.0 * (i - 1)
        b += 2.0
        d = 1.0 / (b + a * d)
        step *= b * d - 1.0
        h += step
        if abs(step) < EPS * abs(h):
            break
    return 1.0 / (0.5 + x - 0.25 * h)


@compiled(nogil=True, error_model="numpy")
def scaled_ratio(x: complex) -> complex:
    """K0(x)/(x K1(x)) of one number.

    Parameters
    ----------
    x : complex [-]
        Real part 0 or more, not 0.

    Returns
    -------
    complex [-]
        To about 1e-13.

    References
    ----------
    Temme (1975), Journal of Computational Physics 19, 324-337, for the continued fraction;
    from memory.

    Examples
    --------
    x = 1: 0.42102/0.60191 = 0.69948.
    """
    if abs(x) < SERIES_BELOW:
        return _small(x)
    return _large(x)


@compiled(nogil=True, error_model="numpy")
def sum_of_modes(
    storage: NDArray[np.complex128],
    weight: NDArray[np.float64],
    wave: NDArray[np.float64],
    tail: NDArray[np.float64],
    accuracy: float,
) -> NDArray[np.complex128]:
    """Sum over modes of w K0(x)/(x K1(x)), x^2 = storage + wave^2, for many storage terms.

    Parameters
    ----------
    storage : Array, shape (m,) complex [-]
        2 alpha s: storage times Laplace variable.
    weight, wave : Array, shape (n,) [-]
        Weight of each mode and its wave number times the radius, rising.
    tail : Array, shape (n + 1, 3) [-]
        Sums from mode i on of w f, w f' and w f''/2, f as a function of x^2 at wave^2.
    accuracy : float [-]
        Third-order remainder (|storage|/wave^2)^3 below which the tail stands for the sum.

    Returns
    -------
    Array, shape (m,) complex [-]
        P of the interval.
    """
    out = np.empty(storage.size, dtype=np.complex128)
    for j in range(storage.size):
        q = storage[j]
        bound = abs(q) / accuracy ** (1.0 / 3.0)
        total = 0.0j
        i = 0
        while i < weight.size and wave[i] * wave[i] <= bound:
            if weight[i] > 0.0:
                total += weight[i] * scaled_ratio(cmath.sqrt(q + wave[i] * wave[i]))
            i += 1
        out[j] = total + tail[i, 0] + q * (tail[i, 1] + q * tail[i, 2])
    return out


def ratio_slopes(square: NDArray[np.float64]) -> NDArray[np.float64]:
    """Value f = K0(x)/(x K1(x)) and its first and half second derivative by x^2.

    Parameters
    ----------
    square : Array, shape (n,) [-]
        x^2, above 0.

    Returns
    -------
    Array, shape (n, 3) [-]
        f, f', f''/2.

    Notes
    -----
    With u = x^2: f' = (f^2 - 1/u) / 2 follows from K0' = -K1 and K1' = -K0 - K1/x, and f'' from
    deriving once more.
    """
    from scipy.special import kve

    x = np.sqrt(square)
    f = kve(0, x) / (x * kve(1, x))
    first = 0.5 * (f**2 - 1.0 / square)
    second = f * first + 0.5 / square**2
    return np.stack((f, first, 0.5 * second), axis=-1)
