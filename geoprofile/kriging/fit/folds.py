"""Real refits: every borehole, or fold of boreholes, predicted by a model that never saw it."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.data import Prior
from geoprofile.kriging.fit.censoring import sweep
from geoprofile.kriging.fit.estimation import maximise
from geoprofile.kriging.fit.plume_fit import draw_member, improve
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.kriging.solve.blocks import one_thread_each
from geoprofile.kriging.solve.system import Layout, System

Array = NDArray[np.float64]

# One by one up to here, in tenths beyond.
MOST_SINGLE, MOST_FOLDS = 15, 10
REFIT_DRAWS = 20
# With few boreholes the residual's parameters, too, are found anew, from where they stood; with
# many one hole hardly moves them, and only non-detects and the plume's shape are.
REFIT_STEPS = 2


def folds_of(group: NDArray[np.int64]) -> list[NDArray[np.intp]]:
    """Rows of each borehole, or of each fold of boreholes when there are many.

    Parameters
    ----------
    group : Array of int, shape (n,) [-]
        Borehole of each datum.

    Returns
    -------
    list of Array of int [-]
        Rows left out together.
    """
    holes = np.unique(group)
    number = np.searchsorted(holes, group)
    if len(holes) > MOST_SINGLE:
        number = number % MOST_FOLDS
    return [np.flatnonzero(number == fold) for fold in np.unique(number)]


@lru_cache(maxsize=32)  # the weights of a stack and its cross-validation ask for the same
def refitted(
    member: Member | PlumeMember, prior: Prior, seed: tuple[int, int]
) -> tuple[Array, Array]:
    """Each datum predicted by refits, started from the fit to all data.

    Parameters
    ----------
    member : Member or PlumeMember
        As fitted to all n data.
    prior : Prior
        As then.
    seed : tuple of int [-]
        Of the draws.

    Returns
    -------
    tuple of Array, shape (n, d) and (n,) [log10 unit]
        Mean of each draw and sd of the test.
    """
    steps = REFIT_STEPS if len(np.unique(np.asarray(member.data.group))) <= MOST_SINGLE else 0
    data, count = member.data, min(member.values.shape[1], REFIT_DRAWS)
    means, sd = np.empty((len(data), count)), np.empty(len(data))
    folds = folds_of(np.asarray(data.group))
    for number, rows in enumerate(folds):
        rng = np.random.default_rng([*seed, number])
        rest = np.setdiff1d(np.arange(len(data)), rows)
        with one_thread_each():
            other = _again(member, prior, rest, count, steps, rng) if rest.size else member
            found, variance = other.at(data.support.take(rows))
        noise = other.parameters.nugget + np.asarray(data.variance)[rows]
        means[rows], sd[rows] = found[:, :count], np.sqrt(variance + noise)
    means.setflags(write=False)
    sd.setflags(write=False)
    return means, sd


def _again(
    member: Member | PlumeMember,
    prior: Prior,
    rest: NDArray[np.intp],
    count: int,
    steps: int,
    rng: np.random.Generator,
) -> Member | PlumeMember:
    """The member fitted to some of its data, from where it stood."""
    data, parameters = member.data.take(rest), member.parameters
    values = member.values[rest][:, :count]
    if isinstance(member, PlumeMember):
        plume, parameters, values, _ = improve(
            data, member.mean, prior, parameters, values, rounds=2, steps=steps, rng=rng
        )
        return draw_member(data, plume, parameters, values, rng, sweeps=5)
    layout = Layout.of(data, member.mean, parameters)
    system = System.build(layout, parameters)
    values = sweep(data, values, system.projection, sweeps=5, rng=rng)
    if steps:
        parameters, _ = maximise(layout, values, prior, parameters, rounds=steps)
        system = System.build(layout, parameters)
        values = sweep(data, values, system.projection, sweeps=5, rng=rng)
    return Member(data, parameters, member.mean, values)
