"""The covariances of many data in single precision, compiled: filled in, or summed at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled
from geoprofile.kriging.covariance.compiled import LOG2_E, TINY

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Whole = NDArray[np.int32]
Number = np.float32
Series = tuple[Number, Number, Number, Number, Number, Number, Number]

# 2^r for |r| up to 1/2 through Chebyshev's points, lowest power first, to 2e-9 of the function.
B0, B1, B2 = np.float32(1.0), np.float32(0.6931472067027026), np.float32(0.24022650922288758)
B3, B4 = np.float32(0.055503272266703021), np.float32(0.0096180566785246381)
B5, B6 = np.float32(0.0013400428177615838), np.float32(0.00015461444698569129)
ONE, NOTHING = np.float32(1.0), np.float32(0.0)
# 1.5 * 2^23: what is added to it has no room for a fraction, and stands in its last bits.
ROUNDER = np.float32(12582912.0)
NEXT = np.float32(1.0 - 2.0**-22)
BITS = np.int32(23)
# exp(-80) is 2e-35: nothing, and still a normal number in single precision.
FADED = np.float32(80.0)


@compiled(nogil=True, fastmath={"contract"}, error_model="numpy", forceinline=True)
def whole(x: np.float32) -> tuple[np.float32, np.float32]:
    """Nearest whole number, by sums that must not be taken in another order.

    Parameters
    ----------
    x : float [-]
        Between -2^22 and 2^22.

    Returns
    -------
    tuple of float [-]
        A number with the whole one in its last bits, and the whole one.
    """
    held = x + ROUNDER
    return held, held - ROUNDER


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def kept_series(nothing: np.float32) -> Series:
    """The polynomial of `two_to` in registers, as `compiled.kept_series` has it.

    Parameters
    ----------
    nothing : float [-]
        Zero, but only known to be so when the loop runs.

    Returns
    -------
    tuple of float [-]
        Lowest power first.
    """
    z = nothing
    return (B0 + z, B1 + z, B2 + z, B3 + z, B4 + z, B5 + z, B6 + z)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def two_to(rest: np.float32, exponent: np.int32, b: Series) -> np.float32:
    """2 to a power whose rest and exponent stand apart; relative error below 2e-7.

    Parameters
    ----------
    rest : float [-]
        Between -1/2 and 1/2.
    exponent : int [-]
        Where it stands in a number.
    b : tuple of float [-]
        Of `kept_series`.

    Returns
    -------
    float [-]
        2^(whole + rest).
    """
    q = rest * rest
    high = (b[4] + rest * b[5]) + q * b[6]
    s = (b[0] + rest * b[1]) + q * ((b[2] + rest * b[3]) + q * high)
    return np.int32(np.float32(s).view(np.int32) + exponent).view(np.float32)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def measure(
    target: Single, place: Single, fading: np.float32, about: np.float32, cut: np.float32,
    distance: Single, rest: Single, exponent: Whole,
) -> None:  # fmt: skip
    """Distances from a target, and the powers of two by which covariance fades there.

    Parameters
    ----------
    target : Array, shape (3,) [-]
        In correlation lengths.
    place : Array, shape (3, n) [-]
        One Gauss point of each datum.
    fading, about : float [-]
        Power of two per correlation length, and another number next to it: one product for both
        uses would be rounded before the whole number is taken off.
    cut : float [-]
        Where distance is held.
    distance, rest, exponent : Array, shape (n,) [-]
        Written: `two_to` takes the last two.
    """
    x, y, z = target[0], target[1], target[2]
    xs, ys, zs = place[0], place[1], place[2]
    for j in range(distance.size):
        a, b, c = x - xs[j], y - ys[j], z - zs[j]
        h = min(np.sqrt(a * a + b * b + c * c), cut)
        held, k = whole(about * h)
        distance[j] = h
        rest[j] = fading * h - k
        exponent[j] = np.int32(np.float32(held).view(np.int32) << BITS)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def fill_single(
    targets: Single, points: Single, weights: Single, shape: Single, out: Single
) -> None:
    """`fill` in single precision.

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
    """
    c1, c2, c3, decay = shape[0], shape[1], shape[2], shape[3]
    cut = min(shape[4], FADED / max(decay, np.float32(TINY)))
    fading = -decay * np.float32(LOG2_E)
    about = fading * NEXT
    series = kept_series(NOTHING * decay)
    n = out.shape[1]
    distance, rest = np.empty(n, dtype=np.float32), np.empty(n, dtype=np.float32)
    exponent = np.empty(n, dtype=np.int32)
    for i in range(out.shape[0]):
        row = out[i]
        row[:] = NOTHING
        for g in range(points.shape[0]):
            w = weights[g]
            measure(targets[i], points[g], fading, about, cut, distance, rest, exponent)
            for j in range(n):
                h = distance[j]
                cubic = ONE + h * (c1 + h * (c2 + h * c3))
                row[j] += w * cubic * two_to(rest[j], exponent[j], series)


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def add_single(
    targets: Single, points: Single, weights: Single, shape: Single, factors: Single, out: Array
) -> None:
    """Covariance of targets with data times a factor of each, summed without being kept.

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
    factors : Array, shape (n,) [1 / log10]
        Of the data.
    out : Array, shape (m,) [log10 unit]
        Added to. Four terms at a time are added in single precision, the rest in double: terms
        are far larger than their sum.
    """
    c1, c2, c3, decay = shape[0], shape[1], shape[2], shape[3]
    cut = min(shape[4], FADED / max(decay, np.float32(TINY)))
    fading = -decay * np.float32(LOG2_E)
    about = fading * NEXT
    series = kept_series(NOTHING * decay)
    plain = c1 == NOTHING and c2 == NOTHING and c3 == NOTHING
    n = factors.size
    distance, rest = np.empty(n, dtype=np.float32), np.empty(n, dtype=np.float32)
    exponent = np.empty(n, dtype=np.int32)
    quarter = (n + 3) // 4
    terms = np.zeros(4 * quarter, dtype=np.float32)
    first, second = terms[:quarter], terms[quarter : 2 * quarter]
    third, fourth = terms[2 * quarter : 3 * quarter], terms[3 * quarter :]
    for i in range(out.size):
        for g in range(points.shape[0]):
            measure(targets[i], points[g], fading, about, cut, distance, rest, exponent)
            if plain:
                for j in range(n):
                    terms[j] = factors[j] * two_to(rest[j], exponent[j], series)
            else:
                for j in range(n):
                    h = distance[j]
                    cubic = ONE + h * (c1 + h * (c2 + h * c3))
                    terms[j] = factors[j] * cubic * two_to(rest[j], exponent[j], series)
            total = 0.0
            for j in range(quarter):
                total += np.float64((first[j] + second[j]) + (third[j] + fourth[j]))
            out[i] += weights[g] * total
