"""A level that oscillates: inertia of the water column against the ground as a damper."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from geoprofile.errors import DataError
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.tests import Array
from geoprofile.hydraulics.thinning import thin
from geoprofile.hydraulics.water import GRAVITY, density, viscosity

DAMPINGS = (0.15, 0.5, 1.0, 1.7, 3.0, 6.0)  # [-] starts of the search
ROOT_EPS = math.sqrt(np.finfo(float).eps)  # [-] step of differences over the parameter
CLOSE = 1e-4  # [-] |CD - 2| within which the critical form is used


@dataclass(frozen=True, eq=False)
class Oscillation:
    """A fitted oscillation: `rate_per_s` sqrt(g/Le), `damping` CD [-], `shift_s` of the start,
    `factor` of H0 [-], `se_ln_k` [-] of ln(rate/damping), `misfit` rms over H0 [-], `fitted` (n,)
    [-].
    """

    rate_per_s: float
    damping: float
    shift_s: float
    factor: float
    se_ln_k: float
    misfit: float
    fitted: Array

    @property
    def column_m(self) -> float:
        """Effective length of the water column, g / rate^2 [m]."""
        return GRAVITY / self.rate_per_s**2


def oscillation(scaled_time: Array, damping: float) -> Array:
    """w/H0 of a damped column that is let go at rest.

    Parameters
    ----------
    scaled_time : Array, shape (n,) [-]
        t sqrt(g/Le), 0 or more.
    damping : float [-]
        CD = sqrt(g/Le) rc^2 P / (2 L K), above 0.

    Returns
    -------
    Array, shape (n,) [-]
        Oscillates below 2, creeps above.

    References
    ----------
    Springer and Gelhar (1991), Butler (1998), Butler and Garnett (2000): the problem; own
    derivation of the form.

    Examples
    --------
    CD 2 at scaled time 1: 2 exp(-1) = 0.7358.
    """
    half = 0.5 * damping
    if abs(damping - 2.0) < CLOSE:
        return np.asarray(np.exp(-scaled_time) * (1.0 + scaled_time))
    if damping < 2.0:
        om = math.sqrt(1.0 - half * half)
        turn = om * scaled_time
        return np.asarray(np.exp(-half * scaled_time) * (np.cos(turn) + half / om * np.sin(turn)))
    root = math.sqrt(half * half - 1.0)
    slow = -1.0 / (half + root)  # the small root without loss of digits
    fast = -half - root
    decay = fast * np.exp(slow * scaled_time) - slow * np.exp(fast * scaled_time)
    return np.asarray(decay / (fast - slow))


def friction_damping(
    column: float, riser_radius: float, rate: float, *, temperature_c: float = 10.0
) -> float:
    """Part of CD that laminar friction in the pipe brings.

    Parameters
    ----------
    column : float [m]
        Water column in the pipe.
    riser_radius : float [m]
        Of the pipe.
    rate : float [1/s]
        sqrt(g/Le).
    temperature_c : float [C]
        Of the water.

    Returns
    -------
    float [-]
        sqrt(g/Le) 8 nu Lc / (g rc^2).

    References
    ----------
    Hagen-Poiseuille; Butler (2002) for small wells, from memory; own derivation.

    Examples
    --------
    10 m of 50.8 mm pipe at 10 C: 0.0164.
    """
    nu = viscosity(temperature_c) / density(temperature_c)
    return rate * 8.0 * nu * column / (GRAVITY * riser_radius**2)


def fit_oscillation(treated: Treated, *, where: str) -> Oscillation:
    """Fit rate, damping, start shift, H0 and static level.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m].
    where : str [-]
        Names the test in an error.

    Returns
    -------
    Oscillation [-]
        The best of several starts.

    Raises
    ------
    DataError
        Fewer than ten readings.
    """
    time, head, count = thin(treated.time_s, treated.head_m, bins=1000)
    norm = head / treated.initial_m
    if time.size < 10:
        found = f"{time.size} readings of an oscillation"
        raise DataError(where, found, "10 or more", "Log at 5 to 10 readings a second.")
    weight = np.sqrt(count)

    def residual(theta: Array) -> Array:
        return np.asarray(weight * (_model(time, theta) - norm))

    def slopes(theta: Array) -> Array:
        return _differences(time, norm, weight, theta)

    step = float(np.median(np.diff(time)))
    scale = (0.1, 0.1, step, 0.05, 0.01)
    fits = [
        least_squares(residual, start, jac=slopes, x_scale=scale, max_nfev=200)
        for start in _starts(time, norm)
    ]
    best = min(fits, key=lambda fit: float(fit.cost))
    rate, damping = math.exp(best.x[0]), math.exp(best.x[1])
    misfit = math.sqrt(2.0 * best.cost / count.sum())
    return Oscillation(
        rate_per_s=rate,
        damping=damping,
        shift_s=float(best.x[2]),
        factor=float(best.x[3]),
        se_ln_k=_spread(best.jac, float(best.cost), treated.noise_m / treated.initial_m),
        misfit=misfit,
        fitted=_model(treated.time_s, best.x),
    )


def _model(time: Array, theta: Array) -> Array:
    """Factor times oscillation plus rest; held at its start before the shift."""
    return np.asarray(theta[3] * _shape(time, theta) + theta[4])


def _shape(time: Array, theta: Array) -> Array:
    """The oscillation alone."""
    scaled = np.maximum(time - theta[2], 0.0) * math.exp(min(theta[0], 50.0))
    return oscillation(scaled, math.exp(min(max(theta[1], -12.0), 12.0)))


def _differences(time: Array, norm: Array, weight: Array, theta: Array) -> Array:
    """Slopes of the residuals (n, 5) by forward differences, as `least_squares` takes them; the
    last two parameters leave the oscillation as it is.
    """
    moves = ROOT_EPS * np.where(theta < 0.0, -1.0, 1.0) * np.maximum(1.0, np.abs(theta))
    shape = _shape(time, theta)
    here = weight * (theta[3] * shape + theta[4] - norm)
    slopes = np.empty((theta.size, time.size))
    for i, move in enumerate(moves):
        moved = theta.copy()
        moved[i] += move
        there = _shape(time, moved) if i < 3 else shape
        change = weight * (moved[3] * there + moved[4] - norm) - here
        slopes[i] = change / (moved[i] - theta[i])
    return slopes.T


def _starts(time: Array, norm: Array) -> list[Array]:
    """First guesses: the first crossing or the time to 37 % sets the rate for each damping."""
    below = np.flatnonzero(norm < 0.37)
    to_37 = float(time[below[0]]) if below.size and below[0] > 0 else float(time[-1])
    grid = np.geomspace(0.01, 100.0, 400)
    starts = []
    for damping in DAMPINGS:
        curve = oscillation(grid, damping)
        at = float(grid[int(np.argmax(curve < 0.37))])
        starts.append(np.array([math.log(at / to_37), math.log(damping), 0.0, 1.0, 0.0]))
    return starts


def _spread(jacobian: Array, cost: float, noise: float) -> float:
    """Sd of ln(rate/damping)."""
    rows = jacobian.shape[0]
    variance = max(2.0 * cost / max(rows - 5, 1), noise**2, 1e-10)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * variance
    direction = np.array([1.0, -1.0, 0.0, 0.0, 0.0])
    return float(math.sqrt(max(direction @ covariance @ direction, 0.0)))
