"""Conditional simulation: waves with random amplitudes, bent to honour the data."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import jv

from geoprofile.kriging.covariance.functions import Covariance
from geoprofile.kriging.predict.compiled import features
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.threads import one_thread_each, own_processors

Array = NDArray[np.float64]

WAVES = 1000
CELLS = 512
# Twice the smoothness of a Matern model: degrees of freedom of its spectrum.
MATERN: Mapping[str, float] = {"exponential": 1.0, "matern 3/2": 3.0, "matern 5/2": 5.0}


def frequencies(covariance: Covariance, count: int, rng: np.random.Generator) -> Array:
    """Wave vectors drawn from the model's spectrum.

    Parameters
    ----------
    covariance : Covariance
        Isotropic in its frame.
    count : int [-]
        How many.
    rng : Generator
        Source of chance.

    Returns
    -------
    Array, shape (count, 3) [rad per correlation length]
        Spread evenly over the sphere.

    References
    ----------
    Rahimi & Recht (2007); the Matern spectrum is a multivariate t (Rasmussen & Williams 2006,
    section 4.2), the spherical one the squared transform of a ball; from memory.
    """
    normal = rng.normal(size=(count, 3))
    if covariance.name in MATERN:
        freedom = MATERN[covariance.name]
        return np.asarray(normal / np.sqrt(rng.chisquare(freedom, (count, 1)) / freedom))
    grid = np.linspace(1e-3, 400.0, 400_001)
    density = jv(1.5, 0.5 * grid) ** 2 / grid
    total = np.cumsum(density)
    radius = np.interp(rng.random(count), total / total[-1], grid)
    return np.asarray(normal / np.linalg.norm(normal, axis=1, keepdims=True) * radius[:, None])


@dataclass(frozen=True, eq=False)
class Realisations:
    """Realisations of one member: waves (w, 3), amplitudes (2w, k) and duals (n, k).

    `shape` holds coefficients of the mean (r, k), or shapes of the plume (k, p).
    """

    member: Member | PlumeMember
    waves: Array
    amplitudes: NDArray[np.float32]
    duals: Array
    shape: Array

    @classmethod
    def of(cls, member: Member | PlumeMember, count: int, rng: np.random.Generator) -> Realisations:
        """Draw amplitudes, noise and coefficients, and krige what the data leave of them."""
        member.prepare(exact=False)
        system, p = member.system, member.parameters
        waves = frequencies(system.layout.covariance, WAVES, rng)
        drawn = np.sqrt(p.sill / WAVES) * rng.normal(size=(2 * WAVES, count))
        amplitudes = drawn.astype(np.float32)
        scaled = system.scaled.transpose(2, 0, 1)
        n, g = scaled.shape[:2]
        at_data = _features(scaled.reshape(-1, 3), waves).reshape(n, g, -1)
        seen = np.einsum("g,ngw->nw", system.layout.weights, at_data) @ amplitudes
        noise = np.sqrt(p.nugget + system.layout.variance)[:, None] * rng.normal(size=(n, count))
        pick = np.arange(count) % member.values.shape[1]
        left = member.values[:, pick] - seen - noise
        if isinstance(member, PlumeMember):
            shape = member.vectors[pick]
            places = system.layout.points + system.layout.origin
            left -= member.mean.prior.averaged(shape, places, system.layout.weights).T
            return cls(member, waves, amplitudes, system.solve(left), shape)
        precision = member.mean.precision(p.sill)
        spread = np.where(precision > 0.0, 1.0 / np.sqrt(np.maximum(precision, 1e-300)), 0.0)
        begin = spread[:, None] * rng.normal(size=(precision.size, count))
        left -= system.layout.basis @ begin
        return cls(member, waves, amplitudes, system.duals(left), begin + system.coefficients(left))

    def block(self, xyz: Array) -> Array:
        """Values of every realisation, shape (m, 3) [m] to (m, k) [log10 unit]."""
        system = self.member.system
        waves = _features(system.frame.place(xyz), self.waves)
        values = (waves @ self.amplitudes).astype(float)
        values += system.cross(xyz) @ self.duals
        if isinstance(self.member, PlumeMember):
            return np.asarray(
                values + self.member.mean.prior.log10_concentration(self.shape, xyz).T
            )
        return np.asarray(values + self.member.mean.basis(xyz) @ self.shape)


def stream(
    members: tuple[Member | PlumeMember, ...],
    weights: tuple[float, ...],
    xyz: Array,
    count: int,
    rng: np.random.Generator,
) -> Iterator[tuple[slice, Array]]:
    """Realisations of the mixture, block after block of cells.

    Parameters
    ----------
    members : tuple of Member or PlumeMember
        Fitted.
    weights : tuple of float [-]
        Of the members; each gets its share of the realisations.
    xyz : Array, shape (n, 3) [m]
        Cells.
    count : int [-]
        Realisations.
    rng : Generator
        Source of chance.

    Yields
    ------
    tuple of slice and Array, shape (count, m) [log10 unit]
        Rows of the cells, and their values.
    """
    xyz = np.atleast_2d(np.asarray(xyz, dtype=float))
    edges = np.rint(np.cumsum([0.0, *weights]) * count).astype(int)
    counts = np.diff(edges)
    drawn = [
        Realisations.of(member, int(number), rng)
        for member, number in zip(members, counts, strict=True)
        if number
    ]
    blocks = [slice(first, first + CELLS) for first in range(0, len(xyz), CELLS)]
    threads = own_processors()

    def compute(rows: slice) -> tuple[slice, Array]:
        return rows, np.concatenate([one.block(xyz[rows]).T for one in drawn])

    with one_thread_each(), ThreadPoolExecutor(threads) as pool:
        ahead: deque[Future[tuple[slice, Array]]] = deque()
        for rows in blocks:
            ahead.append(pool.submit(compute, rows))
            # A few blocks ahead of the reader, never all of them: memory stays bounded.
            if len(ahead) > 2 * threads:
                yield ahead.popleft().result()
        while ahead:
            yield ahead.popleft().result()


def _features(scaled: Array, waves: Array) -> NDArray[np.float32]:
    """Cosines and sines of the waves, shape (m, 3) to (m, 2w) [-]."""
    found = np.empty((len(scaled), 2 * len(waves)), dtype=np.float32)
    turns = np.ascontiguousarray(waves.T / (2.0 * np.pi))
    features(np.ascontiguousarray(scaled), turns, found)
    return found
