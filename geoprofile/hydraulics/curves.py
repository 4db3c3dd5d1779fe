"""K and specific storage from the whole recovery, by weighted least squares with weak priors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

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
TAU_LOW, TAU_HIGH = 1e-5, 1e3  # [-]


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
    log = np.linspace(math.log(low), math.log(high), GRID)
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
    time, head, count = thin(treated.time_s, treated.head_m)
    keep = time > 0
    time, norm, count = time[keep], head[keep] / treated.initial_m, count[keep]
    noise = max(treated.noise_m / treated.initial_m, 1e-5)
    sd = np.sqrt(noise**2 / count + MODEL_SD**2)
    problem = _Problem(np.log(time), norm, sd, well, table, ln_storage_prior)
    first = ln_storage_prior if ln_storage_start is None else ln_storage_start
    theta = np.array([ln_k_start, first, 0.0, 0.0])
    theta, jacobian, residual = _descend(problem, theta)
    information = jacobian.T @ jacobian
    covariance = np.linalg.inv(information)
    rows = time.size
    if excess is None:
        excess = max(1.0, float(residual[:rows] @ residual[:rows]) / max(rows - 2, 1))
        if excess > 1.0:  # what is left over and follows itself counts as fewer readings
            excess *= inflation(residual[:rows])
    fitted = _model(problem, theta)[0]
    return CurveFit(
        ln_k=float(theta[0]),
        ln_storage=float(theta[1]),
        factor=float(math.exp(theta[2])),
        rest=float(theta[3]),
        covariance=np.asarray(covariance * excess),
        misfit=float(np.sqrt(np.average((norm - fitted) ** 2, weights=count))),
        prior_share=float(covariance[1, 1] / STORAGE_SD_LN**2),
        evidence=_evidence(residual, np.asarray(covariance, dtype=np.float64), excess),
        excess=excess,
    )


def _evidence(residual: Array, covariance: Array, excess: float) -> float:
    """Laplace's ln of the probability of the readings, tempered by what the model cannot fit."""
    _, size = np.linalg.slogdet(covariance)
    return float(-0.5 * (residual @ residual) / excess + 0.5 * size)


@dataclass(frozen=True, eq=False)
class _Problem:
    """Everything that one evaluation needs."""

    log_time: Array
    norm: Array
    sd: Array
    well: Well
    table: Table
    prior: float


def _model(problem: _Problem, theta: Array) -> tuple[Array, Array]:
    """Fitted H/H0 (m,) and its slopes (m, 4) by the parameters."""
    log = problem.log_time + math.log(problem.well.tau_per_second(theta[0]))
    log = np.clip(log, math.log(TAU_LOW), math.log(TAU_HIGH))
    low, high = math.exp(log[0]) * 0.9, math.exp(log[-1]) * 1.1
    alpha = problem.well.alpha(theta[1])
    alphas = alpha * np.array([1.0, math.exp(0.02)])
    curves = curve_splines(problem.table, alphas, low, high)
    (shape, other), (slope, _) = curves.at(log)
    factor = math.exp(theta[2])
    slopes = np.empty((log.size, 4))
    slopes[:, 0] = factor * slope
    slopes[:, 1] = factor * (other - shape) / 0.02
    slopes[:, 2] = factor * shape
    slopes[:, 3] = 1.0
    return factor * shape + theta[3], slopes


def _residual(problem: _Problem, theta: Array) -> tuple[Array, Array]:
    """Weighted residuals, readings then priors, and their slopes."""
    fitted, slopes = _model(problem, theta)
    prior_sd = np.array([STORAGE_SD_LN, INITIAL_SD, REST_SD])
    centre = np.array([problem.prior, 0.0, 0.0])
    residual = np.append((problem.norm - fitted) / problem.sd, (centre - theta[1:]) / prior_sd)
    jacobian = np.zeros((residual.size, 4))
    jacobian[: fitted.size] = slopes / problem.sd[:, None]
    jacobian[fitted.size :, 1:] = np.diag(1.0 / prior_sd)
    return residual, jacobian


def _descend(problem: _Problem, theta: Array) -> tuple[Array, Array, Array]:
    """Damped Gauss-Newton steps until nothing moves."""
    residual, jacobian = _residual(problem, theta)
    damping = 1e-3
    for _ in range(MOST_STEPS):
        matrix = jacobian.T @ jacobian
        step = np.linalg.solve(matrix + damping * np.diag(np.diag(matrix)), jacobian.T @ residual)
        step = np.clip(step, -1.5, 1.5)
        trial = theta + step
        trial[1] = np.clip(trial[1], math.log(1e-14), math.log(0.3))
        new_residual, new_jacobian = _residual(problem, trial)
        if new_residual @ new_residual <= residual @ residual:
            done = bool(np.max(np.abs(trial - theta)) < CLOSE)
            theta, residual, jacobian = trial, new_residual, new_jacobian
            damping = max(damping * 0.1, 1e-9)
            if done:
                return theta, jacobian, residual
        elif damping > 1e6:
            return theta, jacobian, residual
        else:
            damping = max(damping * 10.0, 1e-6)
    return theta, jacobian, residual
