"""Loops over shapes and draws that every cell pays for, compiled; cells are innermost."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.compiling import LOOSE, compiled, ln
from geoprofile.kriging.covariance.compiled import power, scaled_erfc

Array = NDArray[np.float64]

ROOT_HALF = 0.7071067811865476
# sin(pi r) / r and cos(pi r) by powers of r^2 for |r| up to 1/2, through Chebyshev's points:
# to 1e-9, finer than single precision
S0 = np.float32(3.1415927410125732)
S1 = np.float32(-5.167710304260254)
S2 = np.float32(2.550077438354492)
S3 = np.float32(-0.5982903838157654)
S4 = np.float32(0.07765591144561768)
C0 = np.float32(1.0)
C1 = np.float32(-4.934802055358887)
C2 = np.float32(4.058709144592285)
C3 = np.float32(-1.335211992263794)
C4 = np.float32(0.23493707180023193)
C5 = np.float32(-0.024395931512117386)
MOST_SDS = 40.0  # [-] over root 2, beyond which there is nothing
FADED = 700.0  # [-] exp(-700) is nothing, and still a number
# Columns of `plumes`: where a source lies and how strong it is; then what its sources share.
SEAT, OTHER_SEAT, STRENGTH = 0, 4, 3
COSINE, SINE, DIP_COSINE, DIP_SINE, EDGE, DECAY = 8, 9, 10, 11, 12, 13
WIDTH, HEIGHT = 14, 17  # each with its growth and half of the box after it
BEND, WAVE, PHASE = 20, 21, 22
COLUMNS = 23


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def box(away: float, half: float, variance: float) -> float:
    """Half the difference of two error functions: a box smoothed by a normal.

    Parameters
    ----------
    away : float [m]
        From the middle of the box.
    half : float [m]
        Half its width.
    variance : float [m2]
        Of the normal.

    Returns
    -------
    float [-]
        0 to 1.
    """
    v = abs(away)
    scale = np.sqrt(0.5 / variance)
    a, b = (half - v) * scale, (half + v) * scale
    near = scaled_erfc(abs(a))
    far = scaled_erfc(b) * power(-min(4.0 * half * v * scale * scale, FADED))
    fading = power(-min(a * a, FADED))
    outside = 0.5 * fading * (near - far)
    inside = 1.0 - 0.5 * fading * (near + far)
    return outside if a < 0.0 else inside


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def plumes(shapes: Array, places: Array, weights: Array, patch: bool, out: Array) -> None:
    """Ln of mean concentrations over background.

    Parameters
    ----------
    shapes : Array, shape (d, 23) [m, radians, -]
        Shapes by the columns above; strengths are over the background.
    places : Array, shape (g, 3, n) [m]
        Points along the expected flow, across it and up; g of each interval.
    weights : Array, shape (g,) [-]
        Theirs, adding to 1.
    patch : bool [-]
        Whether sections are smoothed boxes; else they are normal.
    out : Array, shape (d, n) [-]
        Written.
    """
    n = out.shape[1]
    u, v, w = np.empty(n), np.empty(n), np.empty(n)
    for d in range(out.shape[0]):
        shape, total = shapes[d], out[d]
        total[:] = 1.0
        cosine, sine = shape[COSINE], shape[SINE]
        dip_cosine, dip_sine = shape[DIP_COSINE], shape[DIP_SINE]
        edge, decay = shape[EDGE], shape[DECAY]
        width, wider, half_width = shape[WIDTH], shape[WIDTH + 1], shape[WIDTH + 2]
        height, higher, half_height = shape[HEIGHT], shape[HEIGHT + 1], shape[HEIGHT + 2]
        for g in range(places.shape[0]):
            xs, ys, zs = places[g, 0], places[g, 1], places[g, 2]
            for seat in (SEAT, OTHER_SEAT):
                along, across, up = shape[seat], shape[seat + 1], shape[seat + 2]
                strength = shape[seat + STRENGTH] * weights[g]
                if strength == 0.0:
                    continue
                for j in range(n):
                    x, y, z = xs[j] - along, ys[j] - across, zs[j] - up
                    ahead = x * cosine + y * sine
                    u[j] = ahead * dip_cosine - z * dip_sine
                    v[j] = y * cosine - x * sine
                    w[j] = ahead * dip_sine + z * dip_cosine
                if shape[BEND] != 0.0:
                    start = np.sin(shape[PHASE])
                    for j in range(n):
                        wave = np.sin(shape[WAVE] * u[j] + shape[PHASE])
                        v[j] -= shape[BEND] * (wave - start)
                if patch:
                    for j in range(n):
                        down = max(u[j], 0.0)
                        fading = max(min(u[j], 0.0) * edge - decay * down, -FADED)
                        share = box(v[j], half_width, width + wider * down)
                        share *= box(w[j], half_height, height + higher * down)
                        total[j] += strength * share * power(fading)
                else:
                    for j in range(n):
                        down = max(u[j], 0.0)
                        wide, high = width + wider * down, height + higher * down
                        fading = min(u[j], 0.0) * edge - decay * down
                        fading -= 0.5 * (v[j] * v[j] / wide + w[j] * w[j] / high)
                        share = np.sqrt(width * height / (wide * high))
                        total[j] += strength * share * power(max(fading, -FADED))
        for j in range(n):
            total[j] = ln(total[j])


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def chances(means: Array, sd: Array, level: Array, first: Array, square: Array) -> None:
    """Sums over draws of the chance of lying below a level, and of its square.

    Parameters
    ----------
    means : Array, shape (d, m) [log10 unit]
        Of the draws.
    sd : Array, shape (m,) [log10 unit]
        Theirs, above 0.
    level : Array, shape (m,) [log10 unit]
        Where the distribution is read.
    first, square : Array, shape (m,) [-]
        Added to.
    """
    scale = ROOT_HALF / sd
    for d in range(means.shape[0]):
        mean = means[d]
        for i in range(first.size):
            t = (level[i] - mean[i]) * scale[i]
            size = min(abs(t), MOST_SDS)  # a level may be infinite
            tail = 0.5 * scaled_erfc(size) * power(-min(size * size, FADED))
            chance = tail if t < 0.0 else 1.0 - tail
            first[i] += chance
            square[i] += chance * chance


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy")
def features(scaled: Array, waves: Array, out: NDArray[np.float32]) -> None:
    """Cosines and sines of waves at places.

    Parameters
    ----------
    scaled : Array, shape (m, 3) [-]
        Places, in correlation lengths.
    waves : Array, shape (3, w) [turns per correlation length]
        Wave vectors.
    out : Array, shape (m, 2w) [-]
        Written: cosines, then sines. The turns are counted in double precision; the rest of one
        does in single.
    """
    two = np.float32(2.0)
    count = waves.shape[1]
    a, b, c = waves[0], waves[1], waves[2]
    part = np.empty(count, dtype=np.float32)
    for i in range(scaled.shape[0]):
        x, y, z = scaled[i, 0], scaled[i, 1], scaled[i, 2]
        cosines, sines = out[i, :count], out[i, count:]
        for j in range(count):
            turns = x * a[j] + y * b[j] + z * c[j]
            part[j] = np.float32(turns - np.floor(turns + 0.5))
        for j in range(count):
            r = part[j]
            q = r * r
            s = r * (S0 + q * (S1 + q * (S2 + q * (S3 + q * S4))))
            t = C0 + q * (C1 + q * (C2 + q * (C3 + q * (C4 + q * C5))))
            cosines[j] = t * t - s * s
            sines[j] = two * s * t
