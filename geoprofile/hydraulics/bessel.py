"""K0(x)/(x K1(x)) for complex x: the only Bessel function that a recovering well needs.

The loops run over the modes of a geometry in real arithmetic, so that they fill vector registers.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled, ln

EULER = 0.5772156649015329  # [-]
PI = 3.141592653589793  # [-]
SERIES_BELOW = 4.0  # [-] |x^2| under which the power series is short
# atan(t)/t by powers of t^2 up to tan(pi/8), through Chebyshev's points: to 1e-16
A0, A1, A2 = 1.0, -0.3333333333332844, 0.1999999999885511
A3, A4, A5 = -0.14285714180976467, 0.11111106180455946, -0.09090773074808414
A6, A7, A8 = 0.07689953496306857, -0.06640233930429408, 0.056883492268090106
A9, A10 = -0.04348052215716462, 0.021135373157693246
# K0(x)/K1(x) = (B0 + B1/x + ...)/(C0 + C1/x + ...) for |x| of 2 and more in the right half plane,
# fitted to 60 digits on its border: to 2e-14
B0, B1, B2, B3 = 0.9999999999999832, 21.308599325820033, 181.09774741706678, 798.2672294437049
B4, B5, B6, B7 = 1987.8505705739008, 2856.3587489944302, 2320.2565454418855, 998.3411548417099
B8, B9, B10 = 198.07705907047603, 13.123372700885566, 0.06240886933980482
C0, C1, C2, C3 = 1.0, 21.808599325818427, 191.6270470800475, 886.2775282344346
C4, C5, C6, C7 = 2366.8152293302865, 3769.382262398135, 3571.97612800249, 1948.4556282418173
C8, C9, C10 = 567.6635193131165, 75.6465475967107, 3.1484548278587896
# By powers of x^2/4: I0, 2 I1/x, and K0 without its logarithm; the next terms are below 2e-15.
I0, I1, I2 = 1.0, 1.0, 0.25
I3, I4, I5 = 0.027777777777777776, 0.001736111111111111, 6.944444444444444e-05
I6, I7, I8 = 1.9290123456790124e-06, 3.936759889140842e-08, 6.151187326782565e-10
I9, I10 = 7.594058428126624e-12, 7.594058428126623e-14
J0, J1, J2 = 1.0, 0.5, 0.08333333333333333
J3, J4, J5 = 0.006944444444444444, 0.00034722222222222224, 1.1574074074074073e-05
J6, J7, J8 = 2.755731922398589e-07, 4.920949861426052e-09, 6.834652585313961e-11
J9, J10 = 7.594058428126623e-13, 6.903689480115112e-15
K0, K1, K2 = 0.0, 1.0, 0.375
K3, K4, K5 = 0.05092592592592592, 0.0036168981481481477, 0.0001585648148148148
K6, K7, K8 = 4.726080246913579e-06, 1.0207455998272324e-07, 1.6718048413148325e-09
K9, K10 = 2.1483350211950273e-11, 2.224275605476294e-13


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def polynomial(
    re: float,
    im: float,
    c0: float,
    c1: float,
    c2: float,
    c3: float,
    c4: float,
    c5: float,
    c6: float,
    c7: float,
    c8: float,
    c9: float,
    c10: float,
) -> tuple[float, float]:
    """A polynomial with real coefficients at a complex place (Knuth 1998, 4.6.4, from memory).

    Parameters
    ----------
    re, im : float [-]
        The place.
    c0, c1, c2, c3, c4, c5, c6, c7, c8, c9, c10 : float [-]
        Coefficients, lowest power first.

    Returns
    -------
    tuple of float [-]
        Real and imaginary part.
    """
    twice, square = 2.0 * re, re * re + im * im
    a = c10
    b = c9 + twice * a
    a = c8 + twice * b - square * a
    b = c7 + twice * a - square * b
    a = c6 + twice * b - square * a
    b = c5 + twice * a - square * b
    a = c4 + twice * b - square * a
    b = c3 + twice * a - square * b
    a = c2 + twice * b - square * a
    b = c1 + twice * a - square * b
    return c0 + re * b - square * a, im * b


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def near(re: float, im: float) -> tuple[float, float]:
    """K0(x)/(x K1(x)) of a small x^2, by power series; K1 from I0 K1 + I1 K0 = 1/x.

    Parameters
    ----------
    re, im : float [-]
        x^2, up to 4.

    Returns
    -------
    tuple of float [-]
        Real and imaginary part.
    """
    x, y = 0.25 * re, 0.25 * im
    size = np.sqrt(x * x + y * y)
    # half the acute angle, then half of that by its tangent: atan needs few terms
    half = y / (size + abs(x))
    t = half / (1.0 + np.sqrt(1.0 + half * half))
    q = t * t
    s = A6 + q * (A7 + q * (A8 + q * (A9 + q * A10)))
    acute = 4.0 * t * (A0 + q * (A1 + q * (A2 + q * (A3 + q * (A4 + q * (A5 + q * s))))))
    straight = -PI if y < 0.0 else PI
    angle = straight - acute if x < 0.0 else acute
    log_re, log_im = 0.5 * ln(size) + EULER, 0.5 * angle
    i0_re, i0_im = polynomial(x, y, I0, I1, I2, I3, I4, I5, I6, I7, I8, I9, I10)
    i1_re, i1_im = polynomial(x, y, J0, J1, J2, J3, J4, J5, J6, J7, J8, J9, J10)
    k0_re, k0_im = polynomial(x, y, K0, K1, K2, K3, K4, K5, K6, K7, K8, K9, K10)
    k0_re -= log_re * i0_re - log_im * i0_im
    k0_im -= log_re * i0_im + log_im * i0_re
    above_re, above_im = k0_re * i0_re - k0_im * i0_im, k0_re * i0_im + k0_im * i0_re
    both_re, both_im = i1_re * k0_re - i1_im * k0_im, i1_re * k0_im + i1_im * k0_re
    below_re = 1.0 - 2.0 * (x * both_re - y * both_im)
    below_im = -2.0 * (x * both_im + y * both_re)
    whole = 1.0 / (below_re * below_re + below_im * below_im)
    return (
        (above_re * below_re + above_im * below_im) * whole,
        (above_im * below_re - above_re * below_im) * whole,
    )


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def far(re: float, im: float) -> tuple[float, float]:
    """K0(x)/(x K1(x)) of a large x^2, by a rational function of 1/x.

    Parameters
    ----------
    re, im : float [-]
        x^2, 4 or more.

    Returns
    -------
    tuple of float [-]
        Real and imaginary part.
    """
    size = np.sqrt(re * re + im * im)
    root = np.sqrt(0.5 * (size + abs(re)))
    other = 0.5 * im / root
    side = -1.0 if im < 0.0 else 1.0
    # 1/x, whose real part is positive
    x = (side * other if re < 0.0 else root) / size
    y = -(side * root if re < 0.0 else other) / size
    p_re, p_im = polynomial(x, y, B0, B1, B2, B3, B4, B5, B6, B7, B8, B9, B10)
    q_re, q_im = polynomial(x, y, C0, C1, C2, C3, C4, C5, C6, C7, C8, C9, C10)
    whole = 1.0 / (q_re * q_re + q_im * q_im)
    f_re, f_im = (p_re * q_re + p_im * q_im) * whole, (p_im * q_re - p_re * q_im) * whole
    return f_re * x - f_im * y, f_re * y + f_im * x


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
        P of the interval, each term to about 1e-13.

    References
    ----------
    Abramowitz & Stegun (1964), 9.6.12-13 for the series, from memory.

    Examples
    --------
    One mode of weight 1 without wave, storage 1: 0.42102/0.60191 = 0.69948.
    """
    out = np.empty(storage.size, dtype=np.complex128)
    add_modes(out, storage, weight, wave * wave, tail, accuracy)
    return out


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def add_modes(
    out: NDArray[np.complex128],
    storage: NDArray[np.complex128],
    weight: NDArray[np.float64],
    square: NDArray[np.float64],
    tail: NDArray[np.float64],
    accuracy: float,
) -> None:
    """The loop of `sum_of_modes`; what is made outside of it need not be compiled.

    Parameters
    ----------
    out : Array, shape (m,) complex [-]
        Takes P.
    storage : Array, shape (m,) complex [-]
        2 alpha s.
    weight, square : Array, shape (n,) [-]
        Weight of each mode and square of its wave, rising.
    tail : Array, shape (n + 1, 3) [-]
        As there.
    accuracy : float [-]
        As there.

    Returns
    -------
    None [-]
        `out` is filled.

    References
    ----------
    As there.
    """
    reach = 1.0 / accuracy ** (1.0 / 3.0)
    for j in range(storage.size):
        re, im = storage[j].real, storage[j].imag
        bound = np.sqrt(re * re + im * im) * reach
        last = 0
        while last < square.size and square[last] <= bound:
            last += 1
        # |x^2| falls while its real part is negative, then rises: the small ones stand together
        half = SERIES_BELOW * SERIES_BELOW - im * im
        half = np.sqrt(half) if half > 0.0 else 0.0
        first = 0
        while first < last and re + square[first] <= -half:
            first += 1
        end = first
        while end < last and re + square[end] < half:
            end += 1
        sum_re, sum_im = 0.0, 0.0
        for i in range(first, end):
            f_re, f_im = near(re + square[i], im)
            sum_re += weight[i] * f_re
            sum_im += weight[i] * f_im
        for begin, stop in ((0, first), (end, last)):
            for i in range(begin, stop):
                f_re, f_im = far(re + square[i], im)
                sum_re += weight[i] * f_re
                sum_im += weight[i] * f_im
        slope, bend = tail[last, 1], tail[last, 2]
        sum_re += tail[last, 0] + re * (slope + re * bend) - im * (im * bend)
        sum_im += re * (im * bend) + im * (slope + re * bend)
        out[j] = complex(sum_re, sum_im)


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
    from scipy.special import k0e, k1e

    x = np.sqrt(square)
    f = k0e(x) / (x * k1e(x))
    first = 0.5 * (f**2 - 1.0 / square)
    second = f * first + 0.5 / square**2
    return np.stack((f, first, 0.5 * second), axis=-1)
