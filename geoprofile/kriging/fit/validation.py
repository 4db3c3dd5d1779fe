"""Leave-one-borehole-out: each hole predicted from the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.data import CrossValidation, Data
from geoprofile.kriging.predict.mixture import Part, below, density, moments

if TYPE_CHECKING:
    from geoprofile.kriging.predict.predictor import Member

Array = NDArray[np.float64]

LEAST_DENSITY = 1e-300
# A handful of boreholes rules out no member: equal weights count as much as these boreholes.
EVEN_BOREHOLES = 10
# A member with less, or with this many heavier ones, is not worth its time on the map.
LEAST_SHARE = 0.02
MOST_MEMBERS = 5


def left_out(member: Member) -> tuple[Array, Array]:
    """Each borehole predicted from the others, in closed form.

    Parameters
    ----------
    member : Member
        Of n data [log10 unit].

    Returns
    -------
    tuple of Array, shape (n, d) and (n,) [log10 unit]
        Mean of each draw and sd of the test.

    Notes
    -----
    The residual of block B is (P_BB)^-1 (P y)_B and its covariance (P_BB)^-1. Parameters stay as
    fitted to all data.

    References
    ----------
    Dubrule (1983) for single data, from memory; the block form derived.
    """
    member.prepare()
    projection = member.system.projection
    duals = projection @ member.residuals
    means, sd = np.empty_like(member.values), np.empty(len(member.values))
    group = np.asarray(member.data.group)
    for borehole in np.unique(group):
        rows = np.flatnonzero(group == borehole)
        # With flat coefficients and no other hole P_BB is singular: nothing is predicted then.
        covariance = np.linalg.pinv(projection[np.ix_(rows, rows)], rcond=1e-12, hermitian=True)
        means[rows] = member.values[rows] - covariance @ duals[rows]
        sd[rows] = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return means, sd


def log_densities(data: Data, parts: Sequence[Part]) -> Array:
    """How well each datum was predicted.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    parts : sequence of (float, Array, shape (n, d), Array, shape (n,)) [log10 unit]
        Predictions of the tests.

    Returns
    -------
    Array, shape (n,) [-]
        ln density at a value; ln probability of the limits for a non-detect.
    """
    upper, lower = data.limits
    value = np.where(data.censored, 0.0, np.asarray(data.value))
    inside = below(parts, upper) - below(parts, lower)
    found = np.where(data.censored, inside, density(parts, value))
    return np.asarray(np.log(np.maximum(found, LEAST_DENSITY)))


def validation(data: Data, parts: Sequence[Part], *, refitted: bool) -> CrossValidation:
    """Scores of predictions made without each datum's borehole.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    parts : sequence of (float, Array, shape (n, d), Array, shape (n,)) [log10 unit]
        Predictions of the tests.
    refitted : bool
        Whether the parameters, too, were found without the borehole.

    Returns
    -------
    CrossValidation
        Coverage [-] of detected values, and scores [-] of all.
    """
    mean, sd = moments(parts)
    position = below(parts, np.asarray(data.value))
    seen = ~data.censored
    inside = np.abs(2.0 * position[seen] - 1.0)
    log_density = log_densities(data, parts)
    return CrossValidation(
        mean=mean,
        sd=sd,
        residual=np.asarray(data.value) - mean,
        position=np.where(seen, position, np.nan),
        log_density=log_density,
        group=np.asarray(data.group),
        coverage_50=_share(inside <= 0.50),
        coverage_80=_share(inside <= 0.80),
        coverage_95=_share(inside <= 0.95),
        log_score=-float(log_density.mean()),
        refitted=refitted,
    )


def stack_weights(log_density: Array, *, rounds: int = 200) -> Array:
    """Weights of members that would have predicted the data best together.

    Parameters
    ----------
    log_density : Array, shape (n, k) [-]
        Of each datum under each member, its borehole left out.
    rounds : int [-]
        Steps of expectation and maximisation.

    Returns
    -------
    Array, shape (k,) [-]
        Not negative, adding to 1.

    References
    ----------
    Yao, Vehtari, Simpson & Gelman (2018), stacking of predictive distributions (from memory).
    """
    likelihood = np.exp(log_density - log_density.max(1, keepdims=True))
    weights = np.full(log_density.shape[1], 1.0 / log_density.shape[1])
    for _ in range(rounds):
        share = likelihood * weights
        weights = (share / share.sum(1, keepdims=True)).mean(0)
    return weights


def held_back(weights: Array, boreholes: int) -> Array:
    """Weights drawn towards equal ones where boreholes are few, the heaviest members alone kept.

    Parameters
    ----------
    weights : Array, shape (k,) [-]
        As their scores alone would have them, adding to 1.
    boreholes : int [-]
        Left out in turn to find them.

    Returns
    -------
    Array, shape (k,) [-]
        Not negative, adding to 1.

    Notes
    -----
    Common practice, no source: a mean of the weights and of equal ones, by numbers of boreholes.
    """
    even = EVEN_BOREHOLES / len(weights)
    drawn = (boreholes * weights + even) / (boreholes + EVEN_BOREHOLES)
    least = max(LEAST_SHARE, float(np.sort(drawn)[-min(MOST_MEMBERS, len(drawn))]))
    kept = np.where(drawn < least, 0.0, drawn)
    return np.asarray(kept / kept.sum())


def _share(inside: NDArray[np.bool_]) -> float:
    """Share of true entries; NaN when there are none."""
    return float(inside.mean()) if inside.size else float("nan")
