"""Covariance parameters by restricted likelihood with weak priors, with analytic gradient."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import cos, degrees, exp, inf, log, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from geoprofile.errors import DataError
from geoprofile.kriging.covariance.data import Parameters, Prior
from geoprofile.kriging.covariance.kernels import slopes
from geoprofile.kriging.solve.system import Layout, System

Array = NDArray[np.float64]

# ln sill, ln nugget/sill, ln along, ln along/across, ln along/vertical, azimuth [rad]
SPANS = (9.0, 6.0, 5.0, 3.0, 4.0, 6.3)
LEAST_NUGGET_RATIO = 1e-3
NO_PLACE = 1e10  # [-] cost where there is no factor


@dataclass(frozen=True, eq=False)
class Belief:
    """The prior as independent normals on the parameter vector; the sill's is apart."""

    centre: Array
    sd: Array
    sill: float
    sill_weight: float

    @classmethod
    def of(cls, prior: Prior) -> Belief:
        """From the user's words; the along-flow length must have been set."""
        azimuth, azimuth_sd = 0.0, inf
        if prior.azimuth_deg is not None:
            azimuth, azimuth_sd = radians(prior.azimuth_deg), radians(prior.azimuth_sd_deg)
        length = prior.length_along_m
        if length is None:
            raise ValueError("the prior has not been centred on the data")
        ratios = (prior.nugget_ratio, length, prior.along_across, prior.along_vertical)
        centre = [log(prior.sill), *(log(ratio) for ratio in ratios), azimuth]
        sd = [inf, prior.nugget_ratio_sd, prior.length_along_sd, prior.along_across_sd]
        sd += [prior.along_vertical_sd, azimuth_sd]
        return cls(np.array(centre), np.array(sd), prior.sill, prior.sill_weight)

    def cost(self, vector: Array) -> tuple[float, Array]:
        """Minus log prior density and its gradient, shape (6,)."""
        pull = (vector - self.centre) / self.sd
        gradient = pull / self.sd
        # Scaled inverse chi-square of the sill, as a density of its logarithm.
        share = self.sill / exp(vector[0])
        gradient[0] = 0.5 * self.sill_weight * (1.0 - share)
        value = 0.5 * float(pull @ pull) + 0.5 * self.sill_weight * (vector[0] + share)
        return value, gradient

    def bounds(self) -> list[tuple[float, float]]:
        """Wide limits that keep the search finite."""
        limits = [(c - s, c + s) for c, s in zip(self.centre, SPANS, strict=True)]
        limits[1] = (log(LEAST_NUGGET_RATIO), log(10.0))
        return limits


def to_vector(parameters: Parameters) -> Array:
    """The parameters as the search sees them.

    Parameters
    ----------
    parameters : Parameters
        Sill and nugget [log10 squared], lengths [m].

    Returns
    -------
    Array, shape (6,) [-]
        Logs of sill, nugget ratio, length along and its ratios; azimuth [rad].
    """
    p = parameters
    ratio = max(p.nugget / p.sill, LEAST_NUGGET_RATIO)
    lengths = (p.length_along_m / p.length_across_m, p.length_along_m / p.length_vertical_m)
    logs = [log(t) for t in (p.sill, ratio, p.length_along_m, *lengths)]
    return np.array([*logs, radians(p.azimuth_deg)])


def from_vector(vector: Array, like: Parameters) -> Parameters:
    """The parameters of a search vector.

    Parameters
    ----------
    vector : Array, shape (6,) [-]
        As from `to_vector`.
    like : Parameters
        Gives the kinds and the dip [degrees].

    Returns
    -------
    record
        Sill and nugget [log10 squared], lengths [m].
    """
    sill, along = exp(vector[0]), exp(vector[2])
    return Parameters(
        mean=like.mean,
        covariance=like.covariance,
        sill=sill,
        nugget=sill * exp(vector[1]),
        length_along_m=along,
        length_across_m=along / exp(vector[3]),
        length_vertical_m=along / exp(vector[4]),
        azimuth_deg=degrees(vector[5]),
        dip_deg=like.dip_deg,
    )


def objective(
    vector: Array, layout: Layout, values: Array, belief: Belief, like: Parameters
) -> tuple[float, Array]:
    """Minus log posterior density and its gradient.

    Parameters
    ----------
    vector : Array, shape (6,) [-]
        Logs of sill [log10 squared], nugget ratio, length along [m], its ratios; azimuth [rad].
    layout : Layout
        Of n data [-].
    values : Array, shape (n, d) [log10 unit]
        Data with d draws of the non-detects.
    belief : Belief
        Prior.
    like : Parameters
        Kinds, and the dip [degrees].

    Returns
    -------
    tuple of float and Array, shape (6,) [-]
        Value and gradient; a matrix that cannot be factorised is no place to go.

    Notes
    -----
    With Q = P - mean of (P y)(P y)' the gradient is half the sum of Q times dK.
    """
    system = System.build(layout, from_vector(vector, like))
    try:
        weights = system.projection @ values
    except DataError:
        return NO_PLACE, np.zeros(6)
    misfit = float((values * weights).sum()) / values.shape[1]
    factor = system.projection - weights @ weights.T / values.shape[1]
    cost, gradient = belief.cost(vector)
    gradient += 0.5 * _gradient(system, factor)
    return cost + 0.5 * (system.log_determinant + misfit), gradient


def _gradient(system: System, factor: Array) -> Array:
    """Sums of factor times the derivative of K by each of the six parameters, shape (6,)."""
    p, layout = system.parameters, system.layout
    diagonal = np.diag(factor).copy()
    off = factor.copy()
    np.fill_diagonal(off, 0.0)
    pairs = layout.overlaps
    sums = pairs.slopes(system.frame, layout.covariance, off)
    off[pairs.first, pairs.second] = off[pairs.second, pairs.first] = 0.0
    sums += slopes(system.scaled, layout.weights, layout.covariance.shape, off)
    # Inside an interval only its length in the frame counts.
    chord = system.frame.turn(layout.chord)
    length = np.linalg.norm(chord, axis=1)
    by_length = layout.covariance.within_parts(length, layout.shares)[1]
    pull = diagonal * by_length / np.maximum(length, 1e-12)
    a, b, c = chord.T
    inner = np.array([pull @ t for t in (a * a, b * b, c * c, a * b, b * c)])
    aa, bb, cc, ab, bc = p.sill * (sums + inner)
    la, lb, lv = system.frame.lengths
    dip = radians(p.dip_deg)
    turn = ab * cos(dip) * (lb / la - la / lb) + bc * sin(dip) * (lb / lv - lv / lb)
    nugget = p.nugget * float(diagonal.sum())
    field = p.sill * float((factor * system.correlation).sum())
    proper = layout.mean.precision(1.0) > 0.0
    basis = layout.basis[:, proper] / np.sqrt(layout.mean.precision(p.sill)[proper])
    scales = layout.mean.precision(1.0)[proper] != layout.mean.precision(2.0)[proper]
    drift = float((basis[:, scales] * (factor @ basis[:, scales])).sum())
    return np.array([field + nugget + drift, nugget, -(aa + bb + cc), bb, cc, turn])


def maximise(
    layout: Layout, values: Array, prior: Prior, start: Parameters, *, rounds: int = 40
) -> tuple[Parameters, float]:
    """The most probable parameters, from one start.

    Parameters
    ----------
    layout : Layout
        Of n data [-].
    values : Array, shape (n, d) [log10 unit]
        Data with d draws of the non-detects.
    prior : Prior
        Centred on the data.
    start : Parameters
        Where the search begins.
    rounds : int [-]
        Most iterations.

    Returns
    -------
    tuple of Parameters and float [-]
        Best parameters, and their minus log posterior density.
    """
    belief = Belief.of(prior)
    cost = partial(objective, layout=layout, values=values, belief=belief, like=start)
    return search(cost, belief, start, rounds=rounds)


def search(
    cost: Callable[[Array], tuple[float, Array]],
    belief: Belief,
    start: Parameters,
    *,
    rounds: int = 40,
) -> tuple[Parameters, float]:
    """The parameters of least cost, from one start.

    Parameters
    ----------
    cost : callable
        From a search vector, shape (6,), to a cost and its gradient, shape (6,) [-].
    belief : Belief
        Whose limits hold the search.
    start : Parameters
        Where it begins; lengths [m].
    rounds : int [-]
        Most iterations.

    Returns
    -------
    tuple of Parameters and float [-]
        Best parameters, and their cost.
    """
    bounds = belief.bounds()
    best = minimize(
        cost,
        np.clip(to_vector(start), *np.array(bounds).T),
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": rounds, "ftol": 1e-6, "gtol": 1e-2},
    )
    return from_vector(best.x, start), float(best.fun)


def starts(prior: Prior, mean: str, covariance: str) -> list[Parameters]:
    """Where the search begins: the prior's centre, in four directions when none is known.

    Parameters
    ----------
    prior : Prior
        Centred on the data; lengths [m].
    mean, covariance : str
        Names.

    Returns
    -------
    list of Parameters
        One, or four [-].
    """
    known = prior.azimuth_deg is not None
    along = prior.length_along_m or 1.0
    return [
        Parameters(
            mean=mean,
            covariance=covariance,
            sill=prior.sill,
            nugget=prior.sill * prior.nugget_ratio,
            length_along_m=along,
            length_across_m=along / prior.along_across,
            length_vertical_m=along / prior.along_vertical,
            azimuth_deg=azimuth,
            dip_deg=prior.dip_deg,
        )
        for azimuth in ([float(prior.azimuth_deg or 0.0)] if known else [0.0, 45.0, 90.0, 135.0])
    ]
