"""Doubt about the shape: every member fitted again to halves of the boreholes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.data import Data, Prior
from geoprofile.kriging.fit.censoring import sweep
from geoprofile.kriging.fit.estimation import maximise
from geoprofile.kriging.fit.plume_fit import draw_member, improve
from geoprofile.kriging.predict.mixture import Part
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.threads import one_thread_each

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

PAIRS = 5
# What a half must have found for a shape to be worth fitting to it.
FEWEST_DETECTED = 3
TRIED = 200
ROUNDS, STEPS, SWEEPS = 2, 2, 5
REFIT_DRAWS = 10
SHAPES = 2  # offered by each half
# Two thirds of the pool are shapes fitted to all data, the rest of halves: alone the first are too
# sure of themselves, and the second too vague beside the holes.
OF_ALL, OF_HALVES = 20, 10
LAST_SWEEPS = 20


def halves_of(data: Data, rng: np.random.Generator, *, pairs: int = PAIRS) -> list[Rows]:
    """Boreholes cut in two halves, several times: each is left out as often as any other.

    Parameters
    ----------
    data : Data
        Shape (n,) with numbers of boreholes.
    rng : Generator
        Source of chance.
    pairs : int [-]
        How many cuts, if there are as many.

    Returns
    -------
    list of Array of int [-]
        Rows of each half; two that follow each other make up all. Empty where no cut leaves a
        detection in both halves.
    """
    group = np.asarray(data.group)
    holes, number = np.unique(group, return_inverse=True)
    hits = np.bincount(number[~data.censored], minlength=len(holes))
    found: dict[bytes, tuple[int, int, NDArray[np.bool_]]] = {}
    for order in range(TRIED):
        first = np.zeros(len(holes), dtype=bool)
        first[rng.permutation(len(holes))[: (len(holes) + order % 2) // 2]] = True
        fewest = int(min(hits[first].sum(), hits[~first].sum()))
        key = (first if first[0] else ~first).tobytes()
        if fewest and first.any() and not first.all():
            found.setdefault(key, (min(fewest, FEWEST_DETECTED), -order, first))
    best = sorted(found.values(), key=lambda one: one[:2], reverse=True)[:pairs]
    return [np.flatnonzero(side[number]) for *_, first in best for side in (first, ~first)]


def bagged(
    member: Member | PlumeMember, prior: Prior, halves: list[Rows], seed: tuple[int, ...]
) -> tuple[Member | PlumeMember, list[Part]]:
    """A member that doubts its shape, and what its halves predict of each other.

    Parameters
    ----------
    member : Member or PlumeMember
        As fitted to all n data.
    prior : Prior
        As then.
    halves : list of Array of int [-]
        From `halves_of`.
    seed : tuple of int [-]
        Of the draws.

    Returns
    -------
    member
        The same, or a plume whose draws have the shapes of all data and of the halves.
    list of (float, Array, shape (n, d), Array, shape (n,)) [log10 unit]
        For every cut its share, and means and sd of each test from the half it is not in.

    References
    ----------
    Breiman (1996), bagging and out-of-bag estimates, from memory.
    """
    data = member.data
    parts: list[Part] = []
    vectors: list[Array] = []
    columns = min(member.values.shape[1], REFIT_DRAWS)
    means, sd = np.empty((len(data), columns)), np.empty(len(data))

    def compute(number: int) -> tuple[Member | PlumeMember, Rows, Array, Array]:
        rng = np.random.default_rng([*seed, number])
        half = refit(member, prior, halves[number], columns, rng)
        rest = np.setdiff1d(np.arange(len(data)), halves[number])
        found, variance = half.at(data.support.take(rest))
        noise = half.parameters.nugget + np.asarray(data.variance)[rest]
        return half, rest, found[:, :columns], np.sqrt(variance + noise)

    # LAPACK lets no other thread run: two took as long as one, and up to a quarter more of both
    with one_thread_each():
        fitted = [compute(number) for number in range(len(halves))]
    for number, (half, rest, found, spread) in enumerate(fitted):
        means[rest], sd[rest] = found, spread
        if number % 2:
            parts.append((2.0 / len(halves), means.copy(), sd.copy()))
        if isinstance(half, PlumeMember):
            vectors.append(half.vectors[:SHAPES])
    if isinstance(member, PlumeMember):
        rng = np.random.default_rng([*seed, len(halves)])
        # First shapes of all halves, then the second ones, as many as there is room for.
        others = np.concatenate(list(zip(*vectors, strict=True)))[:OF_HALVES]
        pool = np.concatenate([member.vectors[:OF_ALL], others])
        # Shuffled, since a few realisations take the first few shapes.
        return pooled(member, rng.permutation(pool), rng), parts
    return member, parts


def refit(
    member: Member | PlumeMember,
    prior: Prior,
    rows: Rows,
    columns: int,
    rng: np.random.Generator,
) -> Member | PlumeMember:
    """The member fitted to some of its data, from where it stood.

    Parameters
    ----------
    member : Member or PlumeMember
        As fitted to all n data.
    prior : Prior
        As then.
    rows : Array of int, shape (k,) [-]
        Data to fit to.
    columns : int [-]
        Draws of the non-detects.
    rng : Generator
        Source of chance.

    Returns
    -------
    Member or PlumeMember
        Of these data [log10 unit].
    """
    data, parameters = member.data.take(rows), member.parameters
    values = member.values[rows][:, :columns]
    if isinstance(member, PlumeMember):
        plume, parameters, values, _ = improve(
            data, member.mean, prior, parameters, values, rounds=ROUNDS, steps=STEPS, rng=rng
        )
        return draw_member(data, plume, parameters, values, rng, sweeps=SWEEPS)
    layout = Layout.of(data, member.mean, parameters)
    system = System.build(layout, parameters)
    for _ in range(2):
        values = sweep(data, values, system.projection, sweeps=SWEEPS, rng=rng)
        parameters, _ = maximise(layout, values, prior, parameters, rounds=STEPS)
        system = System.build(layout, parameters)
    values = sweep(data, values, system.projection, sweeps=SWEEPS, rng=rng)
    return Member(data, parameters, member.mean, values)


def pooled(member: PlumeMember, vectors: Array, rng: np.random.Generator) -> PlumeMember:
    """A plume with given shapes, each of which honours all data.

    Parameters
    ----------
    member : PlumeMember
        As fitted to all n data.
    vectors : Array, shape (d, p) [-]
        Shapes in prior units.
    rng : Generator
        Source of chance.

    Returns
    -------
    PlumeMember
        With d draws of the non-detects [log10 unit], each given its own shape.
    """
    system, data = member.system, member.data
    layout = system.layout
    places = layout.points + layout.origin
    offset = member.mean.prior.averaged(vectors, places, layout.weights).T
    # Not the projection: it would integrate the shape out and draw all back to one.
    precision = system.inverse_lower.T @ system.inverse_lower
    values = member.values[:, np.arange(len(vectors)) % member.values.shape[1]]
    values = sweep(data, values, precision, sweeps=LAST_SWEEPS, rng=rng, offset=offset)
    return replace(member, values=values, vectors=vectors)
