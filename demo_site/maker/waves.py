"""Random fields as sums of cosine waves, so that a field has a value at any point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

POINTS_PER_BLOCK = 4096


@dataclass(frozen=True, eq=False)
class Waves:
    """Wave vectors (m, 3) [rad/m] and phases (m,) [rad]."""

    vectors: np.ndarray
    phases: np.ndarray


def exponential_waves(rng: np.random.Generator, count: int, lengths: np.ndarray) -> Waves:
    """Waves whose sum has covariance exp(-h), h the distance in units of `lengths` (3,) [m].

    The spectrum of exp(-h) is a multivariate Student t with one degree of freedom
    (Matern family with shape 1/2; common practice, no source).
    """
    normal = rng.standard_normal((count, 3))
    scale = np.abs(rng.standard_normal(count))
    vectors = normal / scale[:, None] / np.asarray(lengths)
    return Waves(vectors, rng.uniform(0.0, 2.0 * np.pi, count))


def wave_sum(points: np.ndarray, waves: Waves) -> np.ndarray:
    """Zero mean, unit variance field at points (n, 3) [m]; the answer has shape (n,) [-]."""
    out = np.empty(len(points))
    a, b, c = waves.vectors.T
    for start in range(0, len(points), POINTS_PER_BLOCK):
        x, y, z = points[start : start + POINTS_PER_BLOCK].T[:, :, None]
        # Written out rather than as a matrix product: the bytes must not depend on a BLAS.
        angle = x * a + y * b + z * c + waves.phases
        out[start : start + POINTS_PER_BLOCK] = np.cos(angle).sum(axis=1)
    return out * np.sqrt(2.0 / len(waves.phases))
