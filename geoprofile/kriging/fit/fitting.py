"""Fitting: parameters and non-detects in turn, member by member, then the weights."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.kriging.covariance.anisotropy_frame import centred
from geoprofile.kriging.covariance.data import CrossValidation, Data, Parameters, Prior
from geoprofile.kriging.covariance.functions import COVARIANCES
from geoprofile.kriging.fit.bags import bagged, halves_of
from geoprofile.kriging.fit.censoring import DRAWS, first_draws, sweep
from geoprofile.kriging.fit.data_requirements import check_name, refuse, warnings_of
from geoprofile.kriging.fit.estimation import starts
from geoprofile.kriging.fit.large import MOST_WHOLE, best_parameters, fit_in_blocks
from geoprofile.kriging.fit.plain import predicted_by_one_level, sure_gain
from geoprofile.kriging.fit.plume_fit import fit_plume, kinds
from geoprofile.kriging.fit.validation import held_back, log_densities, stack_weights, validation
from geoprofile.kriging.predict.doubt import doubt_in_words
from geoprofile.kriging.predict.means import mean_of
from geoprofile.kriging.predict.mixture import Part, moments
from geoprofile.kriging.predict.model import Model
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.kriging.solve.blocks import one_thread_each
from geoprofile.kriging.solve.system import Layout, System

Array = NDArray[np.float64]

# Plumes come first: the direction they find helps the others.
MEMBERS = {
    "constant": ("constant",),
    "quadratic": ("quadratic",),
    "plume": ("plume",),
    "cautious": ("plume", "quadratic"),
    "stack": ("plume", "bending plume", "two plumes", "quadratic", "constant"),
}
ROUNDS = 5
SWEEPS = 5
LAST_SWEEPS = 20
LONGER = 5.0  # [-] times the prior's lengths, where the second search begins
SURELY_BETTER = 0.1  # [-] of the log posterior density
ONE_SHAPE = "detections in one borehole only: shapes of the mean weigh the same and are one guess"


def fit(
    data: Data,
    *,
    rng: np.random.Generator,
    prior: Prior | None = None,
    mean: str = "constant",
    covariance: str = "exponential",
) -> Model:
    """Fit a field to data, non-detects included.

    Parameters
    ----------
    data : Data
        Supports [m] and values [log10 unit].
    rng : Generator
        Source of chance, for draws of the non-detects.
    prior : Prior
        Weak beliefs; the defaults scale with the data's extent [m].
    mean : str
        'constant'; 'quadratic' (a parabola across flow, held by a prior); 'plume' (sources that
        widen and fade along flow); 'stack' (all of them, by how well they predict boreholes left
        out); 'cautious' (plume and quadratic in equal parts).
    covariance : str
        'exponential', 'spherical', 'matern 3/2' or 'matern 5/2'.

    Returns
    -------
    Model
        To predict from [log10 unit].

    Raises
    ------
    DataError
        Too few data, or none detected: there is no field to map, only an upper bound.
    UsageError
        Unknown mean or covariance.

    Notes
    -----
    More than 2000 data are fitted by blocks of neighbours (`large.fit_in_blocks`). Their mean is
    still predicted from all of them, which takes one factor of n x n numbers: 3.2 GB for 20,000.
    """
    check_name("mean", mean, tuple(MEMBERS))
    check_name("covariance", covariance, tuple(COVARIANCES))
    refuse(data)
    mean, simpler = _affordable(data, mean)
    placed = centred(prior or Prior(), data)
    seed = int(rng.integers(2**63))
    chance = np.random.default_rng(seed)
    with one_thread_each():
        members = _members(data, placed, MEMBERS[mean], covariance, chance)
        members, weights, words, left_out = _doubted(data, placed, members, mean, seed)
    return Model(
        data=data,
        prior=placed,
        mean=mean,
        members=members,
        weights=weights,
        warnings=warnings_of(data) + simpler + words,
        seed=seed,
        left_out=left_out,
    )


def krige(data: Data, parameters: Parameters) -> Model:
    """A model with known parameters: nothing is fitted. Every datum must have a value.

    Parameters
    ----------
    data : Data
        Supports [m] and values [log10 unit], none censored.
    parameters : Parameters
        Sill and nugget [log10 squared], lengths [m].

    Returns
    -------
    Model
        To predict from [log10 unit].

    Raises
    ------
    DataError
        Some data are non-detects.
    """
    if data.censored.any():
        raise DataError(
            "data", "non-detects", "values only", "Use fit, which draws the non-detects."
        )
    member = Member(data, parameters, mean_of(parameters, data), np.asarray(data.value)[:, None])
    return Model(data=data, prior=Prior(), mean=parameters.mean, members=(member,), weights=(1.0,))


def _members(
    data: Data, prior: Prior, names: tuple[str, ...], covariance: str, rng: np.random.Generator
) -> tuple[Member | PlumeMember, ...]:
    """Every member asked for; simpler plumes hint at richer ones, plumes at the direction."""
    found: list[Member | PlumeMember] = []
    first: PlumeMember | None = None
    for name in names:
        if name in kinds():
            hint = None if first is None else first.mean.vector
            member = fit_plume(data, prior, name, covariance=covariance, rng=rng, hint=hint)
            found.append(member)
            first = first or member
            continue
        turned = prior
        if first is not None:
            azimuth, dip = first.mean.direction_deg
            turned = replace(prior, azimuth_deg=azimuth, dip_deg=dip)
        alone = len(names) == 1
        found.append(_member(data, turned, name, covariance, rng, alone=alone))
    return tuple(found)


def _member(
    data: Data,
    prior: Prior,
    kind: str,
    covariance: str,
    rng: np.random.Generator,
    *,
    alone: bool,
) -> Member:
    """Draws and parameters in turn (stochastic EM); the last draws are kept for the map.

    With a few holes the likelihood has two hills: lengths shorter than from interval to interval,
    where all is noise, and long ones, where the intervals of a hole are alike. From the prior's
    centre the search may climb the lower hill, and the other one as soon as a hole is added: a
    field that stands `alone`, with no plume beside it, is searched for twice.
    """
    begin = starts(prior, kind, covariance)
    if len(data) > MOST_WHOLE:
        return fit_in_blocks(data, prior, begin, lambda p: mean_of(p, data, prior), rng)
    values = first_draws(data, DRAWS, rng)
    found = [_round(data, prior, start, values, rng) for start in begin]
    best = min(found, key=lambda one: one[2])
    if alone:
        far = _round(data, prior, _longer(begin[0], best[0]), values, rng.spawn(1)[0])
        best = far if far[2] < best[2] - SURELY_BETTER else best
    parameters, values, _ = best
    for _ in range(ROUNDS if data.censored.any() else 1):
        parameters, values, _ = _round(data, prior, parameters, values, rng)
    turned = replace(parameters, azimuth_deg=parameters.azimuth_deg % 360.0)
    mean = mean_of(turned, data, prior)
    system = System.build(Layout.of(data, mean, turned), turned)
    values = sweep(data, values, system.projection, sweeps=LAST_SWEEPS, rng=rng)
    return Member(data, turned, mean, values)


def _longer(start: Parameters, like: Parameters) -> Parameters:
    """Long lengths, in the direction that was found."""
    return replace(
        start,
        azimuth_deg=like.azimuth_deg,
        length_along_m=LONGER * start.length_along_m,
        length_across_m=LONGER * start.length_across_m,
        length_vertical_m=LONGER * start.length_vertical_m,
    )


def _round(
    data: Data, prior: Prior, parameters: Parameters, values: Array, rng: np.random.Generator
) -> tuple[Parameters, Array, float]:
    """One round: draw the non-detects, then move the parameters."""
    mean = mean_of(parameters, data, prior)
    if data.censored.any():
        system = System.build(Layout.of(data, mean, parameters), parameters)
        values = sweep(data, values, system.projection, sweeps=SWEEPS, rng=rng)
    found, cost = best_parameters(data, values, prior, parameters, mean)
    return found, values, cost


def _doubted(
    data: Data,
    prior: Prior,
    members: tuple[Member | PlumeMember, ...],
    mean: str,
    seed: int,
) -> tuple[
    tuple[Member | PlumeMember, ...],
    tuple[float, ...],
    tuple[str, ...],
    CrossValidation | None,
]:
    """Members that doubt their shapes, weights by what halves predict of each other, and that."""
    even = (1.0 / len(members),) * len(members)
    if not any(isinstance(member, PlumeMember) for member in members):
        return members, even, (), None
    halves = halves_of(data, np.random.default_rng([seed, 1]))
    if not halves:
        return members, even, (ONE_SHAPE,), None
    found = [bagged(m, prior, halves, (seed, k, 1)) for k, m in enumerate(members)]
    members, parts = tuple(m for m, _ in found), [p for _, p in found]
    weights = np.array(even)
    words: tuple[str, ...] = ()
    if mean == "stack":
        scores = np.column_stack([log_densities(data, p) for p in parts])
        boreholes = len(np.unique(np.asarray(data.group)))
        weights = held_back(stack_weights(scores), boreholes)
        words = _stack_words(members, weights, parts)
    mixed = [(w * s, m, sd) for w, p in zip(weights, parts, strict=True) if w for s, m, sd in p]
    left_out = validation(data, mixed, refitted=True)
    plainest = predicted_by_one_level(data, halves)
    left_out = replace(
        left_out,
        log_score_constant=-float(plainest.mean()),
        sure_gain=sure_gain(left_out.log_density - plainest, np.asarray(data.group)),
    )
    return members, tuple(weights.tolist()), words + doubt_in_words(left_out), left_out


def _stack_words(
    members: tuple[Member | PlumeMember, ...],
    weights: Array,
    parts: list[list[Part]],
) -> tuple[str, ...]:
    """Say where the shape of a plume is not supported, and where members disagree."""
    words = []
    plain = sum(
        weight
        for member, weight in zip(members, weights, strict=True)
        if not isinstance(member, PlumeMember)
    )
    if plain > 0.5:
        words.append(
            "not plume-like: a field without a plume's shape predicts the boreholes "
            f"left out better (weight {plain:.2f})"
        )
    found = [moments(part) for part in parts]
    centres = np.array([mean for mean, _ in found])
    middle = weights @ centres
    apart = np.sqrt(weights @ (centres - middle) ** 2)
    spread = np.sqrt(weights @ np.array([sd * sd for _, sd in found]))
    if float(np.mean(apart > spread)) > 0.1:
        words.append("shapes of the mean disagree at many held-out boreholes: look at each")
    return tuple(words)


def _affordable(data: Data, mean: str) -> tuple[str, tuple[str, ...]]:
    """The mean asked for, or the parabola where data are too many for a plume's shape."""
    if len(data) <= MOST_WHOLE or not set(MEMBERS[mean]) & set(kinds()):
        return mean, ()
    words = f"more than {MOST_WHOLE} tests: the mean is quadratic; the data outweigh its shape"
    return "quadratic", (words,)
