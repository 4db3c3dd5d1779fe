"""The loops of `kernels`, compiled; they stand at module level so that numba keeps them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled

Array = NDArray[np.float64]

# exp(x) = 2^k exp(r): k ln 2 is taken off in two parts (Cody & Waite 1980), then a polynomial
# through Chebyshev's points on |r| < ln(2)/2, lowest power first, to 3e-16 of the function.
P0, P1, P2, P3, P4 = (
    1.0, 1.0000000000000067, 0.5000000000000006, 0.16666666666554314, 0.041666666666573066,
)  # fmt: skip
P5, P6, P7 = 0.008333333385699212, 0.001388888893251478, 0.00019841170230570286
P8, P9, P10 = 2.480150431378554e-05, 2.764019739169484e-06, 2.7626371065696354e-07
SERIES = (P0, P1, P2, P3, P4, P5, P6, P7, P8, P9, P10)
Series = tuple[float, float, float, float, float, float, float, float, float, float, float]
LOG2_E = 1.4426950408889634
LN2_HIGH = 6.93147180369123816490e-01
LN2_LOW = 1.90821492927058770002e-10
# 1.5 * 2^52: what is added to it has no room for a fraction, and stands in its last bits.
ROUNDER = 6755399441055744.0
TINY = 1e-30
MOST_KNOWN = 1.0 - 1e-9
# No gain is counted where a unit adds less than that share, or where half the squared distance from
# the threshold is more than that many times the share known: the integrand is below 1e-6 there.
LEAST_ADDED, REACH = 1e-5, 14.0
# (1 + 2x) exp(x^2) erfc(x) as a polynomial in (x - c)/(x + c) (Shepherd & Laframboise 1981, from
# memory), lowest power first: through Chebyshev's points, to 2e-12 of the function.
SCALED_CENTRE = 3.75
E0, E1, E2, E3 = 1.237512630837827, -0.14024059858768279, 0.0035854155219353784, 0.08227673858988695
E4, E5, E6 = -0.10880393189758851, 0.09230431985866752, -0.05869337382014707
E7, E8, E9 = 0.028362284551184176, -0.009746737325414825, 0.001755607888161904
E10, E11, E12 = 0.00029425092190192955, -0.00029013885424014336, 5.0597040796768474e-05
E13, E14, E15 = 2.2405791353917813e-05, -1.0239413380136335e-05, -1.035689830761238e-06
E16 = 9.716836916141029e-07


@compiled(nogil=True, fastmath={"contract"}, error_model="numpy", forceinline=True)
def split(x: float) -> tuple[float, float]:
    """Nearest multiple of ln 2 and the rest, by sums that must not be taken in another order.

    Parameters
    ----------
    x : float [-]
        Between -700 and 700.

    Returns
    -------
    tuple of float [-]
        A number with the multiple in its last bits, and the rest.
    """
    held = x * LOG2_E + ROUNDER
    k = held - ROUNDER
    return held, (x - k * LN2_HIGH) - k * LN2_LOW


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def near_one(r: float, p: Series) -> float:
    """Exponential of a small number, in short chains that the processor follows side by side.

    Parameters
    ----------
    r : float [-]
        Between -ln(2)/2 and ln(2)/2.
    p : tuple of float [-]
        `SERIES`, or `kept_series`.

    Returns
    -------
    float [-]
        exp(r).

    References
    ----------
    Estrin (1960), order of a polynomial's sums, from memory.
    """
    q = r * r
    low = (p[0] + r * p[1]) + q * (p[2] + r * p[3])
    high = (p[4] + r * p[5]) + q * (p[6] + r * p[7])
    q2 = q * q
    return low + q2 * (high + q2 * ((p[8] + r * p[9]) + q * p[10]))


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def kept_series(nothing: float) -> Series:
    """`SERIES` in registers: numbers that the compiler knows it would load anew in every step.

    Parameters
    ----------
    nothing : float [-]
        Zero, but only known to be so when the loop runs.

    Returns
    -------
    tuple of float [-]
        The same numbers.
    """
    z = nothing
    return (
        P0 + z, P1 + z, P2 + z, P3 + z, P4 + z, P5 + z, P6 + z, P7 + z, P8 + z, P9 + z, P10 + z
    )  # fmt: skip


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def power(x: float) -> float:
    """Exponential of a number that is not positive; relative error below 1e-14.

    Parameters
    ----------
    x : float [-]
        Between -700 and 0.

    Returns
    -------
    float [-]
        exp(x).
    """
    held, r = split(x)
    # the multiple is added to the exponent, without a conversion
    bits = np.float64(near_one(r, SERIES)).view(np.int64) + (np.float64(held).view(np.int64) << 52)
    return np.int64(bits).view(np.float64)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def fill(targets: Array, points: Array, weights: Array, shape: Array, out: Array) -> None:
    """Covariance of targets with data.

    Parameters
    ----------
    targets : Array, shape (m, 3) [-]
        In correlation lengths.
    points : Array, shape (g, 3, n) [-]
        Gauss points of the data.
    weights : Array, shape (g,) [log10 squared]
        Theirs, times the sill.
    shape : Array, shape (5,) [-]
        The five numbers of the covariance model.
    out : Array, shape (m, n) [log10 squared]
        Written.

    Notes
    -----
    In two passes: a processor looks some sixty operations ahead, and roots, which are slow, must
    find the next roots there.
    """
    c1, c2, c3, decay, cut = shape[0], shape[1], shape[2], shape[3], shape[4]
    series = kept_series(0.0 * decay)
    n = out.shape[1]
    distance, rest, exponent = np.empty(n), np.empty(n), np.empty(n, dtype=np.int64)
    for i in range(out.shape[0]):
        x, y, z = targets[i, 0], targets[i, 1], targets[i, 2]
        row = out[i]
        row[:] = 0.0
        for g in range(points.shape[0]):
            w = weights[g]
            xs, ys, zs = points[g, 0], points[g, 1], points[g, 2]
            for j in range(n):
                a, b, c = x - xs[j], y - ys[j], z - zs[j]
                h = min(np.sqrt(a * a + b * b + c * c), cut)
                held, rest[j] = split(-decay * h)
                distance[j] = h
                exponent[j] = np.float64(held).view(np.int64) << 52
            for j in range(n):
                h = distance[j]
                bits = np.float64(near_one(rest[j], series)).view(np.int64) + exponent[j]
                cubic = 1.0 + h * (c1 + h * (c2 + h * c3))
                row[j] += w * cubic * np.int64(bits).view(np.float64)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def slopes(points: Array, weights: Array, shape: Array, factor: Array) -> Array:
    """Sums of factor times slope of the correlation, for the likelihood's gradient.

    Parameters
    ----------
    points : Array, shape (g, 3, n) [-]
        Gauss points of the data in correlation lengths.
    weights : Array, shape (g,) [-]
        Theirs.
    shape : Array, shape (5,) [-]
        The five numbers of the covariance model.
    factor : Array, shape (n, n) [-]
        Symmetric, with an empty diagonal.

    Returns
    -------
    Array, shape (5,) [-]
        Sums of rho'(h)/h times a a, b b, c c, a b and b c, the differences along the axes.
    """
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
    out = np.empty(5)
    out[0], out[1], out[2], out[3], out[4] = aa, bb, cc, ab, bc
    return 2.0 * out


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def gains(
    half_square: Array, known: Array, added: Array, node: Array, weight: Array, out: Array
) -> None:
    """Expected fall in misclassification at every cell by every unit of tests.

    Parameters
    ----------
    half_square : Array, shape (m,) [-]
        Half the squared distance of mean from threshold, in sd.
    known : Array, shape (m,) [-]
        Share of the variance that the batch so far explains.
    added : Array, shape (m, u) [-]
        Share that each unit would add.
    node : Array, shape (g,) [-]
        Gauss nodes on [0, 1].
    weight : Array, shape (g,) [-]
        Theirs.
    out : Array, shape (m, u) [-]
        Written.
    """
    place = np.empty(out.shape[1], dtype=np.int64)
    width = np.empty(out.shape[1])
    total = np.empty(out.shape[1])
    for i in range(out.shape[0]):
        w = np.sqrt(known[i] / (1.0 - known[i]))
        low = w / (1.0 + w)
        square = half_square[i]
        row, more = out[i], added[i]
        row[:] = 0.0
        count = 0
        for j in range(row.size):
            share = min(known[i] + more[j], MOST_KNOWN)
            if more[j] < LEAST_ADDED or square > REACH * share:
                continue
            w = np.sqrt(share / (1.0 - share))
            width[count] = w / (1.0 + w) - low
            total[count] = 0.0
            place[count] = j
            count += 1
        for g in range(node.size):
            x, part = node[g], weight[g] / np.pi
            for j in range(count):
                s = low + width[j] * x
                q = 1.0 - s
                ratio = q / (s + TINY)
                falling = power(max(-square * (1.0 + ratio * ratio), -700.0))
                total[j] += part * width[j] * falling / (q * q + s * s)
        for j in range(count):
            row[place[j]] = total[j]


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def scaled_erfc(x: float) -> float:
    """exp(x^2) erfc(x) of a number that is not negative; relative error below 1e-11.

    Parameters
    ----------
    x : float [-]
        Not negative.

    Returns
    -------
    float [-]
        The scaled complementary error function.
    """
    y = (x - SCALED_CENTRE) / (x + SCALED_CENTRE)
    s = E10 + y * (E11 + y * (E12 + y * (E13 + y * (E14 + y * (E15 + y * E16)))))
    s = E4 + y * (E5 + y * (E6 + y * (E7 + y * (E8 + y * (E9 + y * s)))))
    s = E0 + y * (E1 + y * (E2 + y * (E3 + y * s)))
    return s / (1.0 + 2.0 * x)
