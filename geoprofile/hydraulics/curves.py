"""K and specific storage from the whole recovery, by weighted least squares with weak priors."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.linalg.lapack import dgesv

from geoprofile.hydraulics.curve_table import Table
from geoprofile.hydraulics.equal_knots import Curves
from geoprofile.hydraulics.lines import inflation
from geoprofile.hydraulics.readings import Treated
from geoprofile.hydraulics.tests import Array
from geoprofile.hydraulics.thinning import thin

STORAGE = 1e-5  # [1/m] middle of the prior of specific storage; common practice, no source
STORAGE_SD_LN = 1.2 * math.log(10.0)  # [-] sd of its ln
INITIAL_SD = 0.01  # [-] prior sd of ln(H0 fitted / H0 read)
REST_SD = 0.005  # [-] prior sd of the static level over H0
MODEL_SD = 0.002  # [-] misfit of H/H0 that more readings do not remove
GRID = 48  # points of one curve
MOST_STEPS = 40
CLOSE = 1e-4  # [-] of ln K and ln Ss, far below what readings tell
LN_TAU = math.log(1e-5), math.log(1e3)  # [-] range of the curve
STORAGE_STEP = 0.02  # [-] of ln Ss, over which its slope is taken
LN_STORAGE = math.log(1e-14), math.log(0.3)  # [-] bounds of the search
PRIOR_SD = np.array([STORAGE_SD_LN, INITIAL_SD, REST_SD])  # of ln Ss, ln factor, rest
_COUNT = np.arange(float(GRID))
_PAIR = np.array([1.0, math.exp(STORAGE_STEP)])


@dataclass(frozen=True, eq=False)
class CurveFit:
    """Result of a fit: ln K, ln Ss, ln of the H0 factor and the rest level, with covariance.

    `ln_k` of K [m/s], `ln_storage` of Ss [1/m], `factor` [-], `rest` [-] of H0; `covariance` (4, 4)
    of (ln K, ln Ss, ln factor, rest); `misfit` rms over H0 [-]; `prior_share` the share of the
    storage information that the prior brings [-]; `evidence` ln of the probability of the
    readings with all four summed over, up to a constant; `excess` growth of variance
    for misfit [-].
    """

    ln_k: float
    ln_storage: float
    factor: float
    rest: float
    covariance: Array
    misfit: float
    prior_share: float
    evidence: float = 0.0
    excess: float = 1.0


@dataclass(frozen=True)
class Well:
    """What turns tau and alpha into time and storage: radii and length [m]."""

    surface_radius_m: float
    hole_radius_m: float
    length_m: float

    def tau_per_second(self, ln_k: float) -> float:
        """2 L K / rc^2 [1/s]."""
        return 2.0 * self.length_m * math.exp(ln_k) / self.surface_radius_m**2

    def alpha(self, ln_storage: float) -> float:
        """rw^2 Ss L / rc^2 [-]."""
        ratio = self.hole_radius_m**2 * self.length_m / self.surface_radius_m**2
        return math.exp(ln_storage) * ratio


def curve_splines(table: Table, alpha: Array, low: float, high: float) -> Curves:
    """H/H0 as splines of ln tau.

    Parameters
    ----------
    table : Table [-]
        The geometry.
    alpha : Array, shape (c,) [-]
        Storage.
    low, high : float [-]
        Range of tau.

    Returns
    -------
    Curves [-]
        One of ln tau for each alpha.
    """
    first, last = math.log(low), math.log(high)
    log = _COUNT * ((last - first) / (GRID - 1)) + first
    log[-1] = last
    return Curves.through(log, table.recoveries(np.exp(log), alpha))


def fit_curve(
    treated: Treated,
    well: Well,
    table: Table,
    *,
    ln_k_start: float,
    ln_storage_prior: float = math.log(STORAGE),
    ln_storage_start: float | None = None,
    excess: float | None = None,
) -> CurveFit:
    """Fit K, Ss, H0 and the static level to a recovery.

    Parameters
    ----------
    treated : Treated [-]
        Readings [s], [m].
    well : Well [-]
        Radii and length [m].
    table : Table [-]
        The geometry.
    ln_k_start : float [-]
        First guess of ln K [m/s].
    ln_storage_prior : float [-]
        Middle of the prior of ln Ss [1/m].
    ln_storage_start : float [-]
        First guess of ln Ss; the prior's middle when None.
    excess : float [-]
        Growth of the variance for misfit, from another fit of the same readings; None finds it.

    Returns
    -------
    CurveFit [-]
        Values and covariance.

    Notes
    -----
    Four parameters (ln K, ln Ss, ln factor, rest), the last three with normal priors; damped
    Gauss-Newton steps. Readings carry their noise over the root of their number plus a part that
    does not average out. The covariance grows with the misfit where the model fits badly.
    """
    readings = _readings(treated)
    problem = _Problem(readings, well, table, ln_storage_prior)
    first = ln_storage_prior if ln_storage_start is None else ln_storage_start
    theta, seen = _descend(problem, np.array([ln_k_start, first, 0.0, 0.0]))
    covariance = np.linalg.inv(seen.jacobian.T @ seen.jacobian)
    rows = readings.norm.size
    if excess is None:
        of_readings = seen.residual[:rows]
        excess = max(1.0, float(of_readings @ of_readings) / max(rows - 2, 1))
        if excess > 1.0:  # what is left over and follows itself counts as fewer readings
            excess *= inflation(of_readings)
    return CurveFit(
        ln_k=float(theta[0]),
        ln_storage=float(theta[1]),
        factor=float(math.exp(theta[2])),
        rest=float(theta[3]),
        covariance=np.asarray(covariance * excess),
        misfit=float(
            np.sqrt(np.average((readings.norm - seen.fitted) ** 2, weights=readings.count))
        ),
        prior_share=float(covariance[1, 1] / STORAGE_SD_LN**2),
        evidence=_evidence(seen.residual, np.asarray(covariance, dtype=np.float64), excess),
        excess=excess,
    )


def _evidence(residual: Array, covariance: Array, excess: float) -> float:
    """Laplace's ln of the probability of the readings, tempered by what the model cannot fit."""
    _, size = np.linalg.slogdet(covariance)
    return float(-0.5 * (residual @ residual) / excess + 0.5 * size)


@dataclass(frozen=True, eq=False)
class _Readings:
    """Means of readings that a fit uses, all (m,): ln of time [s], H/H0, its sd, their count;
    `blank` (m + 3, 4) holds the slopes that are the same whatever the parameters.
    """

    log_time: Array
    norm: Array
    sd: Array
    count: Array
    blank: Array


@lru_cache(maxsize=8)  # a test is fitted some five times
def _readings(treated: Treated) -> _Readings:
    """Readings after the start, made few."""
    time, head, count = thin(treated.time_s, treated.head_m)
    keep = time > 0
    time, norm, count = time[keep], head[keep] / treated.initial_m, count[keep]
    noise = max(treated.noise_m / treated.initial_m, 1e-5)
    sd = np.sqrt(noise**2 / count + MODEL_SD**2)
    blank = np.zeros((time.size + 3, 4))
    blank[: time.size, 3] = 1.0 / sd
    blank[time.size :, 1:] = np.diag(1.0 / PRIOR_SD)
    return _Readings(np.log(time), norm, sd, count, blank)


@dataclass(frozen=True, eq=False)
class _Problem:
    """Everything that one evaluation needs."""

    readings: _Readings
    well: Well
    table: Table
    prior: float


class _Seen(NamedTuple):
    """Fitted H/H0 (m,), weighted residuals (m + 3,), readings then priors, the sum of their
    squares, and the slopes (m + 3, 4) of what is fitted by the parameters.
    """

    fitted: Array
    residual: Array
    squares: float
    jacobian: Array


def _see(problem: _Problem, theta: Array) -> _Seen:
    """What the parameters leave of the readings."""
    readings, well = problem.readings, problem.well
    log = readings.log_time + math.log(well.tau_per_second(float(theta[0])))
    log = np.minimum(np.maximum(log, LN_TAU[0]), LN_TAU[1])
    low, high = math.exp(log[0]) * 0.9, math.exp(log[-1]) * 1.1
    alphas = well.alpha(float(theta[1])) * _PAIR
    (shape, other), (slope, _) = curve_splines(problem.table, alphas, low, high).at(log)
    factor, rows, sd = math.exp(theta[2]), shape.size, readings.sd
    slopes = np.empty((3, rows))
    slopes[0], slopes[1], slopes[2] = slope, other - shape, shape
    slopes *= factor
    fitted = slopes[2] + theta[3]
    slopes[1] /= STORAGE_STEP
    slopes /= sd
    jacobian = readings.blank.copy()
    jacobian[:rows, :3] = slopes.T
    residual = np.empty(rows + 3)
    residual[:rows] = (readings.norm - fitted) / sd
    residual[rows:] = ((problem.prior, 0.0, 0.0) - theta[1:]) / PRIOR_SD
    return _Seen(fitted, residual, float(residual @ residual), jacobian)


def _descend(problem: _Problem, theta: Array) -> tuple[Array, _Seen]:
    """Damped Gauss-Newton steps until nothing moves."""
    seen = _see(problem, theta)
    damping = 1e-3
    for _ in range(MOST_STEPS):
        matrix = seen.jacobian.T @ seen.jacobian
        diagonal = matrix.ravel()[:: len(matrix) + 1]
        diagonal += damping * diagonal
        step = _solved(matrix, seen.jacobian.T @ seen.residual)
        trial = theta + np.minimum(np.maximum(step, -1.5), 1.5)
        trial[1] = min(max(float(trial[1]), LN_STORAGE[0]), LN_STORAGE[1])
        new = _see(problem, trial)
        if new.squares <= seen.squares:
            done = bool(np.abs(trial - theta).max() < CLOSE)
            theta, seen = trial, new
            damping = max(damping * 0.1, 1e-9)
            if done:
                break
        elif damping > 1e6:
            break
        else:
            damping = max(damping * 10.0, 1e-6)
    return theta, seen


def _solved(matrix: Array, right: Array) -> Array:
    """As `numpy.linalg.solve` to the last bit, whose checks take longer than four equations."""
    *_, solved, fault = dgesv(matrix, right)
    if fault:
        raise np.linalg.LinAlgError("singular matrix")
    return np.asarray(solved, dtype=np.float64)
