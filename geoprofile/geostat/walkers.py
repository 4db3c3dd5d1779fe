"""Shapes of a plume drawn from their posterior by walkers that learn its ridges from each other.

Between two rows of boreholes the source can lie anywhere if the plume was narrower there: a normal
around the most probable shape knows one end of that ridge only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geoprofile.geostat.censoring import sweep
from geoprofile.geostat.plume import SHAPE, STEP, PlumePrior
from geoprofile.geostat.predictor import PlumeMember
from geoprofile.geostat.system import System

Array = NDArray[np.float64]

GENERATIONS, SWEEP_EVERY, KEEP_EVERY = 400, 5, 10
MOST_DATA = 600  # more leave no ridge, and each generation would cost more
FIRST, MOST_KEPT = 100, 1500  # shapes remembered at the beginning, and at most
LONE = 1e-3  # [prior sd] of a step's own chance, so that every shape can be reached
SLIDE, RISE, MOST_SLIDES = 0.1, 5.0, 40  # [prior sd] of a step, fall of ln density that ends them
POLISHES = 6


def walked(member: PlumeMember, rng: np.random.Generator) -> PlumeMember:
    """The member with shapes and non-detects drawn from their joint posterior.

    Parameters
    ----------
    member : PlumeMember
        With n data and d draws around the most probable shape.
    rng : Generator
        Source of chance.

    Returns
    -------
    PlumeMember
        With d draws of shape [prior sd] and of the data [log10 unit]; the same member if it has
        too many data.

    Notes
    -----
    Each of d walkers steps by the difference of two shapes that were visited before, at times in
    some of the numbers only, and is accepted by Metropolis' rule; non-detects are drawn anew
    (Gibbs) every few generations. The residual's parameters stay as they are.

    References
    ----------
    ter Braak & Vrugt (2008), differential evolution from the past, from memory.
    """
    if len(member.data) > MOST_DATA:
        return member
    target = _Target(member.mean.prior, member.system)
    ridge = _slid(target, member.mean.vector, member.values.mean(1))
    root = np.linalg.cholesky(member.system.coefficient_covariance)
    count, size = member.vectors.shape
    around = 0.5 * rng.normal(size=(FIRST, size)) @ root.T
    known = ridge[rng.integers(len(ridge), size=FIRST)] + around
    shapes, values = known[:count].copy(), member.values
    seen = target.seen(shapes)
    for generation in range(GENERATIONS):
        if generation % SWEEP_EVERY == 0:
            values = sweep(member.data, values, target.precision, sweeps=1, rng=rng, offset=seen.T)
            density = target.density(shapes, values, seen)
        tried = shapes + _steps(known, count, rng)
        there = target.seen(tried)
        other = target.density(tried, values, there)
        taken = np.log(rng.random(count)) < other - density
        shapes = np.where(taken[:, None], tried, shapes)
        seen = np.where(taken[:, None], there, seen)
        density = np.where(taken, other, density)
        if generation % KEEP_EVERY == KEEP_EVERY - 1:
            known = np.vstack([known, shapes])[-MOST_KEPT:]
    return PlumeMember(member.data, member.parameters, member.mean, values, shapes)


class _Target:
    """Ln density of shapes (d, p), given the values of the data (n, d)."""

    def __init__(self, prior: PlumePrior, system: System) -> None:
        layout = system.layout
        self._prior, self._places = prior, layout.points + layout.origin
        self._weights, self._whiten = layout.weights, system.inverse_lower
        self.precision = system.inverse_lower.T @ system.inverse_lower

    def seen(self, shapes: Array) -> Array:
        """What the plumes give at the data, shape (d, n) [log10 unit]."""
        return self._prior.averaged(shapes, self._places, self._weights)

    def white(self, left: Array) -> Array:
        """Independent residuals of variance one, shape (d, n)."""
        return np.asarray(left @ self._whiten.T)

    def density(self, shapes: Array, values: Array, seen: Array) -> Array:
        """Shape (d,) [-], up to a constant."""
        white = self.white(values.T - seen)
        return np.asarray(-0.5 * ((white * white).sum(1) + (shapes * shapes).sum(1)))


def _steps(known: Array, count: int, rng: np.random.Generator) -> Array:
    """A step for each walker: differences of shapes that were visited, shape (d, p)."""
    size = known.shape[1]
    one, other = (known[rng.integers(len(known), size=count)] for _ in range(2))
    length = 2.38 / np.sqrt(2.0 * size) * rng.choice([1.0, 0.5, 0.25], size=count)
    length = np.where(rng.random(count) < 0.1, 1.0, length)  # at times from ridge to ridge
    moved = rng.random((count, size)) < rng.choice([1.0, 0.5, 0.25], size=(count, 1))
    return np.where(moved, length[:, None] * (one - other), 0.0) + LONE * rng.normal(
        size=(count, size)
    )


def _slid(target: _Target, vector: Array, middle: Array) -> Array:
    """Shapes whose source is moved up and down the flow and all else fitted anew, shape (k, p)."""
    column = SHAPE.index("along")
    found = [_polished(target, vector, middle, column)]
    for way in (-SLIDE, SLIDE):
        shape = found[0][0]
        for _ in range(MOST_SLIDES):
            moved = shape.copy()
            moved[column] += way
            shape, density = _polished(target, moved, middle, column)
            found.append((shape, density))
            if density < max(d for _, d in found) - RISE:
                break
    best = max(density for _, density in found)
    return np.array([shape for shape, density in found if density > best - RISE])


def _polished(target: _Target, vector: Array, middle: Array, held: int) -> tuple[Array, float]:
    """Levenberg-Marquardt on all numbers of the shape but one; shape and ln density."""
    free = np.arange(vector.size) != held
    moves = STEP * np.eye(vector.size)[free]
    values = middle[:, None]
    here = float(target.density(vector[None], values, target.seen(vector[None]))[0])
    damping = 0.1
    for _ in range(POLISHES):
        seen = target.seen(np.vstack([vector, vector + moves]))
        slopes = target.white((seen[1:] - seen[0]) / STEP)
        normal = slopes @ slopes.T + np.eye(len(slopes))
        pull = slopes @ target.white(middle - seen[0]) - vector[free]
        dampings = damping * np.array([0.01, 0.1, 1.0, 10.0, 100.0])
        tried = np.repeat(vector[None], len(dampings), axis=0)
        for row, d in zip(tried, dampings, strict=True):
            row[free] += np.linalg.solve(normal + d * np.diag(np.diag(normal)), pull)
        found = target.density(tried, values, target.seen(tried))
        best = int(np.argmax(found))
        if found[best] < here + 0.01:
            break
        vector, here, damping = tried[best], float(found[best]), float(dampings[best])
    return vector, here
