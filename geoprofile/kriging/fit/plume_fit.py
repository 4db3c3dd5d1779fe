"""Fitting a plume-shaped mean: many starts, then shape, residual and non-detects in turn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from geoprofile.kriging.covariance.data import Data, Parameters, Prior
from geoprofile.kriging.fit.censoring import DRAWS, first_draws, sweep
from geoprofile.kriging.fit.large import best_parameters
from geoprofile.kriging.predict.plume_shape import EXTRA, SHAPE, STEP, Plume, PlumePrior
from geoprofile.kriging.predict.predictor import PlumeMember
from geoprofile.kriging.solve.system import Layout, System

Array = NDArray[np.float64]

STARTS = 12
MODES = 2
ROUNDS = 4
# Residual after a plume: smaller than a whole field's [log10 squared].
RESIDUAL_SILL, RESIDUAL_WEIGHT = 0.2, 4.0
SPREAD = 0.5


def fit_plume(
    data: Data,
    prior: Prior,
    kind: str,
    *,
    covariance: str,
    rng: np.random.Generator,
    hint: Array | None = None,
) -> PlumeMember:
    """The most probable plume of one kind.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    prior : Prior
        Centred on the data.
    kind : str
        'plume', 'bending plume' or 'two plumes'.
    covariance : str
        Of the residual.
    rng : Generator
        Source of chance.
    hint : Array, shape (q,) [-]
        A simpler plume already found, to start from as well.

    Returns
    -------
    PlumeMember
        With joint draws of non-detects and shape.
    """
    placed = PlumePrior.of(data, prior, kind)
    vectors = _search(data, placed, rng, hint)
    found = [_settle(data, placed, prior, vector, covariance, rng) for vector in vectors]
    plume, parameters, values, _ = min(found, key=lambda one: one[3])
    return draw_member(data, plume, parameters, values, rng)


def draw_member(
    data: Data,
    plume: Plume,
    parameters: Parameters,
    values: Array,
    rng: np.random.Generator,
    *,
    sweeps: int = 20,
) -> PlumeMember:
    """Joint draws of non-detects and shape around the most probable plume (Laplace).

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    plume : Plume
        Most probable shape.
    parameters : Parameters
        Of the residual.
    values : Array, shape (n, d) [log10 unit]
        Draws to go on from.
    rng : Generator
        Source of chance.
    sweeps : int [-]
        How often each non-detect is drawn anew.

    Returns
    -------
    PlumeMember
        With d draws [-].
    """
    layout = Layout.of(data, plume, parameters)
    system = System.build(layout, parameters)
    values = sweep(data, values, system.projection, sweeps=sweeps, rng=rng, offset=layout.offset)
    middle = system.coefficients(values - layout.offset[:, None])
    root = np.linalg.cholesky(system.coefficient_covariance)
    vectors = (middle + root @ rng.normal(size=middle.shape)).T
    azimuth, dip = plume.direction_deg
    turned = replace(
        parameters, azimuth_deg=azimuth, dip_deg=dip, shape=tuple(plume.vector.tolist())
    )
    return PlumeMember(data, turned, plume, values, vectors)


def improve(
    data: Data,
    plume: Plume,
    prior: Prior,
    parameters: Parameters,
    values: Array,
    *,
    rounds: int,
    steps: int = 10,
    rng: np.random.Generator,
) -> tuple[Plume, Parameters, Array, float]:
    """Rounds of: draw the non-detects, fit the residual, take a step of the shape.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    plume : Plume
        Where to begin.
    prior : Prior
        Of the residual's lengths.
    parameters : Parameters
        Of the residual, to begin with.
    values : Array, shape (n, d) [log10 unit]
        Draws to go on from.
    rounds : int [-]
        How many.
    steps : int [-]
        Most steps of the residual's parameters in each; 0 holds them.
    rng : Generator
        Source of chance.

    Returns
    -------
    tuple of Plume, Parameters, Array, shape (n, d) [log10 unit], float [-]
        Shape, residual, draws, and minus log posterior density.
    """
    cost = np.inf
    for _ in range(rounds):
        azimuth, dip = plume.direction_deg
        parameters = replace(parameters, azimuth_deg=azimuth, dip_deg=dip)
        belief = replace(
            prior,
            sill=RESIDUAL_SILL,
            sill_weight=RESIDUAL_WEIGHT,
            azimuth_deg=azimuth,
            dip_deg=dip,
        )
        layout = Layout.of(data, plume, parameters)
        system = System.build(layout, parameters)
        values = sweep(data, values, system.projection, sweeps=5, rng=rng, offset=layout.offset)
        left = values - layout.offset[:, None]
        if steps:
            parameters, cost = best_parameters(data, left, belief, parameters, plume, rounds=steps)
            system = System.build(layout, parameters)
        plume = _step(plume, system, values)
    return plume, parameters, values, cost


def _step(plume: Plume, system: System, values: Array) -> Plume:
    """A Gauss-Newton step of the shape, shortened until the posterior density rises."""
    layout = system.layout
    goal = system.coefficients(values - layout.offset[:, None]).mean(1)
    middle = values.mean(1)
    places = layout.points + layout.origin
    shares = np.array([0.0, 1.0, 0.5, 0.25, 0.1])
    tried = plume.vector + shares[:, None] * (goal - plume.vector)
    left = middle - plume.prior.averaged(tried, places, layout.weights)
    white = left @ system.inverse_lower.T
    cost = 0.5 * (white * white).sum(1) + 0.5 * (tried * tried).sum(1)
    return Plume(plume.prior, tried[int(np.argmin(cost))])


def _settle(
    data: Data,
    placed: PlumePrior,
    prior: Prior,
    vector: Array,
    covariance: str,
    rng: np.random.Generator,
) -> tuple[Plume, Parameters, Array, float]:
    """From a start of the search to the most probable plume of its mode."""
    along = prior.length_along_m or 1.0
    parameters = Parameters(
        mean=placed.kind,
        covariance=covariance,
        sill=RESIDUAL_SILL,
        nugget=RESIDUAL_SILL * prior.nugget_ratio,
        length_along_m=along,
        length_across_m=along / prior.along_across,
        length_vertical_m=along / prior.along_vertical,
    )
    values = first_draws(data, DRAWS, rng)
    if values.shape[1] == 1:
        values = np.repeat(values, DRAWS, axis=1)
    plume = Plume(placed, vector)
    return improve(data, plume, prior, parameters, values, rounds=ROUNDS, rng=rng)


def _search(
    data: Data, placed: PlumePrior, rng: np.random.Generator, hint: Array | None
) -> list[Array]:
    """Best shapes of a descent from many starts, on independent residuals at mid-points."""
    count = len(placed.centre)
    begins = [0.8 * rng.normal(size=count) for _ in range(STARTS if hint is None else STARTS // 3)]
    begins.insert(0, np.zeros(count))
    if hint is not None:
        extra = 0.3 * rng.normal(size=count - len(SHAPE))
        begins.insert(0, np.append(hint[: len(SHAPE)], extra))
    ends = sorted((_descend(data, placed, begin) for begin in begins), key=lambda end: end[0])
    kept: list[Array] = []
    for cost, vector in ends:
        new = all(np.linalg.norm(vector - other) > 0.7 for other in kept)
        if new and cost < ends[0][0] + 8.0 and len(kept) < MODES:
            kept.append(vector)
    return kept


def _descend(data: Data, placed: PlumePrior, vector: Array) -> tuple[float, Array]:
    """Levenberg-Marquardt from one start; minus log posterior density and shape."""
    here = _misfit(data, placed, vector[None])[0]
    damping = 1.0
    for _ in range(25):
        around = np.vstack([vector, vector + STEP * np.eye(vector.size)])
        rows = _misfit(data, placed, around)
        slope = (rows[1:] - rows[0]) / STEP
        normal, pull = slope @ slope.T, slope @ rows[0]
        dampings = damping * np.array([0.1, 1.0, 10.0, 100.0])
        tried = np.array(
            [vector - np.linalg.solve(normal + d * np.eye(vector.size), pull) for d in dampings]
        )
        found = _misfit(data, placed, tried)
        costs = (found * found).sum(1)
        best, before = int(np.argmin(costs)), float(here @ here)
        if costs[best] >= before - 1e-3:
            break
        vector, here, damping = tried[best], found[best], float(dampings[best])
    return 0.5 * float(here @ here), vector


def _misfit(data: Data, placed: PlumePrior, vectors: Array) -> Array:
    """Residuals of data and prior whose half square is minus the log density, (d, n + p)."""
    field = placed.log10_concentration(vectors, data.support.centre)
    upper, lower = data.limits
    value = np.where(data.censored, 0.0, np.asarray(data.value))
    beyond = log_ndtr((upper - field) / SPREAD) + log_ndtr((field - lower) / SPREAD)
    hidden = np.sqrt(np.maximum(-2.0 * beyond, 1e-12))
    rows = np.where(data.censored, hidden, (value - field) / SPREAD)
    return np.concatenate([rows, vectors], axis=1)


def kinds() -> tuple[str, ...]:
    """Names of the plume-shaped means.

    Returns
    -------
    tuple of str
        From the simplest on.
    """
    return tuple(EXTRA)
