"""Ordinary kriging held to a printed example and to the bordered matrix of the textbooks."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.integrate import quad
from scipy.special import gamma, kv, ndtr

from geoprofile import kriging
from geoprofile.kriging.covariance.functions import COVARIANCES
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant
from geoprofile.validation.case import Array, Case, Second

BOOK = "Isaaks and Srivastava (1989), ordinary kriging of seven samples"
# easting, northing, value, weight as printed
SAMPLES = np.array(
    [
        [61, 139, 477, 0.173],
        [63, 140, 696, 0.318],
        [64, 129, 227, 0.129],
        [68, 128, 646, 0.086],
        [71, 140, 606, 0.151],
        [73, 141, 791, 0.057],
        [75, 128, 783, 0.086],
    ]
)
TARGET = np.array([[65.0, 137.0, 0.0]])
COVARIANCE = kriging.Parameters(
    sill=10.0, length_along_m=10 / 3, length_across_m=10 / 3, length_vertical_m=1.0
)


def samples(value: Array | None = None, variance: Array | None = None) -> kriging.Data:
    """The seven samples at elevation zero."""
    places = np.column_stack([SAMPLES[:, :2], np.zeros(7)])
    return kriging.Data(
        support=kriging.Support.from_points(places),
        value=SAMPLES[:, 2] if value is None else value,
        variance=variance,
    )


def _predicted() -> list[float]:
    found = kriging.krige(samples(), COVARIANCE).predict(TARGET)
    return [float(found.mean[0]), float(found.sd[0] ** 2)]


def _bordered_solution() -> tuple[Array, Array]:
    """Weights with the multiplier, and the right side, as the book writes them."""
    places = SAMPLES[:, :2]
    matrix = np.ones((8, 8))
    matrix[7, 7] = 0.0
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    matrix[:7, :7] = 10 * np.exp(-0.3 * apart)
    right = np.append(10 * np.exp(-0.3 * np.linalg.norm(places - [65, 137], axis=1)), 1.0)
    return np.linalg.solve(matrix, right), right


def bordered() -> list[float]:
    """Estimate and variance from the bordered matrix."""
    weights, right = _bordered_solution()
    return [float(weights[:7] @ SAMPLES[:, 2]), float(10 - weights @ right)]


def _bordered_weights() -> list[float]:
    return [float(w) for w in _bordered_solution()[0][:7]]


def _weights() -> list[float]:
    return [
        float(kriging.krige(samples(unit), COVARIANCE).predict(TARGET).mean[0])
        for unit in np.eye(7)
    ]


def _after_one_more() -> list[float]:
    batch = kriging.next_tests(
        kriging.krige(samples(), COVARIANCE),
        kriging.Support.from_points(np.array([[66.0, 135.0, 0.0]])),
        TARGET,
        None,
        noise_variance=0.8,
    )
    return [float(batch.gain[0])]


def one_more_by_hand() -> list[float]:
    """Variance before less variance with an eighth sample whose own variance is 0.8."""
    places = np.vstack([SAMPLES[:, :2], [66.0, 135.0]])
    right = np.append(10 * np.exp(-0.3 * np.linalg.norm(places - [65, 137], axis=1)), 1.0)
    matrix = np.ones((9, 9))
    matrix[8, 8] = 0.0
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    matrix[:8, :8] = 10 * np.exp(-0.3 * apart)
    matrix[7, 7] += 0.8
    after = 10 - float(np.linalg.solve(matrix, right) @ right)
    return [bordered()[1] - after]


def _chance() -> list[float]:
    """The chance of exceeding 594 at the target, from mean and variance by hand."""
    mean, variance = bordered()
    return [float(ndtr((mean - 594.0) / math.sqrt(variance)))]


def _exceedance() -> list[float]:
    return [float(kriging.krige(samples(), COVARIANCE).exceedance(TARGET, 594.0)[0])]


def _sixty() -> tuple[Array, Array, Array]:
    rng = np.random.default_rng(3)
    return rng.uniform(0, 100, (60, 3)), rng.normal(size=60), rng.uniform(0, 100, (5, 3))


def _ours_of_sixty() -> list[float]:
    places, value, at = _sixty()
    parameters = kriging.Parameters(
        sill=0.7, length_along_m=20.0, length_across_m=20.0, length_vertical_m=20.0
    )
    data = kriging.Data(support=kriging.Support.from_points(places), value=value)
    found = kriging.krige(data, parameters).predict(at)
    return [*found.mean, *(found.sd**2)]


def _dual() -> tuple[float, ...]:
    """The same by the bordered matrix, all at once."""
    places, value, at = _sixty()
    matrix = np.ones((61, 61))
    matrix[60, 60] = 0.0
    matrix[:60, :60] = 0.7 * np.exp(-np.linalg.norm(places[:, None] - places[None], axis=2) / 20)
    right = np.ones((61, 5))
    right[:60] = 0.7 * np.exp(-np.linalg.norm(places[:, None] - at[None], axis=2) / 20)
    weights = np.linalg.solve(matrix, right)
    variance = 0.7 - np.einsum("ij,ij->j", weights, right)
    return (*(weights[:60].T @ value), *variance)


def _likelihood_less_density() -> list[float]:
    """REML of ln of the samples less the log density of orthonormal error contrasts."""
    value, n = np.log(SAMPLES[:, 2]), 7
    data = samples(value, np.full(n, 1.5))
    system = System.build(Layout.of(data, Constant(), COVARIANCE), COVARIANCE)
    apart = np.linalg.norm(SAMPLES[:, None, :2] - SAMPLES[None, :, :2], axis=2)
    full = 10.0 * np.exp(-0.3 * apart) + 1.5 * np.eye(n)
    contrasts = np.linalg.qr(np.column_stack([np.ones(n), np.eye(n)[:, :6]]))[0][:, 1:]
    inner = contrasts.T @ full @ contrasts
    z = contrasts.T @ value
    density = -0.5 * (
        6 * np.log(2 * np.pi) + np.linalg.slogdet(inner)[1] + z @ np.linalg.solve(inner, z)
    )
    return [float(np.ravel(system.log_likelihood(value[:, None]))[0] - density)]


FIVE = tuple(f"{what} {i}" for what in ("mean", "variance") for i in range(1, 6))

DISTANCES = (0.1, 0.5, 1.0, 2.5)  # in correlation lengths
MODELS: dict[str, Callable[[float], float]] = {
    "exponential": lambda h: math.exp(-h),
    "spherical": lambda h: 1 - 1.5 * h + 0.5 * h**3 if h < 1 else 0.0,
    "matern 3/2": lambda h: (1 + math.sqrt(3) * h) * math.exp(-math.sqrt(3) * h),
    "matern 5/2": lambda h: (1 + math.sqrt(5) * h + 5 * h * h / 3) * math.exp(-math.sqrt(5) * h),
}


def _matern(h: float, nu: float) -> float:
    """The general form with a modified Bessel function."""
    x = math.sqrt(2 * nu) * h
    return float(2 ** (1 - nu) / gamma(nu) * x**nu * kv(nu, x))


def _general() -> list[float]:
    """The same models: by the general form, and the overlap of two balls of diameter 1."""
    ball = math.pi / 6
    found = [_matern(h, 0.5) for h in DISTANCES]
    found += [
        quad(lambda x: 2 * math.pi * (0.25 - x * x), min(h / 2, 0.5), 0.5)[0] / ball
        for h in DISTANCES
    ]
    return found + [_matern(h, nu) for nu in (1.5, 2.5) for h in DISTANCES]


CASES = (
    Case(
        "covariance-models", "fields", "Correlation of the four models at four distances",
        "Definitions; Stein (1999) for Matern's class", "from memory",
        tuple(model(h) for model in MODELS.values() for h in DISTANCES),
        lambda: np.concatenate(
            [COVARIANCES[name].correlation(np.array(DISTANCES)) for name in MODELS]
        ),
        absolute=1e-9, labels=tuple(f"{name}, {h:g} lengths" for name in MODELS for h in DISTANCES),
        how="COVARIANCES",
        second=Second("Bessel form of Matern's class; overlap of two balls", _general, 1e-6),
    ),
    Case(
        "seven-samples", "fields", "Estimate and variance at (65, 137)", BOOK, "from memory",
        (592.7, 8.96), _predicted, absolute=(0.05, 0.005), labels=("estimate", "variance"),
        how="kriging.krige", because="printed to one and two decimals",
        second=Second("bordered matrix of the book", bordered, 6e-4),
    ),
    Case(
        "seven-weights", "fields", "The seven weights, printed to three digits", BOOK,
        "from memory", tuple(SAMPLES[:, 3]), _weights, absolute=6e-4,
        labels=tuple(f"sample {i}" for i in range(1, 8)), how="kriging.krige of unit fields",
        because="printed to three decimals",
        second=Second("bordered matrix of the book", _bordered_weights, 0.02),
    ),
    Case(
        "sixty-data", "fields", "60 data in 3D, exponential covariance", "Bordered matrix",
        "derived", _dual(), _ours_of_sixty, absolute=1e-8, labels=FIVE,
        how="kriging.krige",
    ),
    Case(
        "chance-of-exceeding", "plume", "Chance of lying above a value at one place",
        "Normal distribution with the book's estimate and variance", "derived",
        tuple(_chance()), _exceedance, absolute=1e-6,
        how="exceedance",
    ),
    Case(
        "one-more-test", "advice", "How much variance one more test takes off",
        "Bordered matrix with and without it", "derived", tuple(one_more_by_hand()),
        _after_one_more, absolute=1e-6, how="kriging.next_tests",
    ),
    Case(
        "after-one-more", "advice", "Variance after a test at (66, 135) whose own variance is 0.8",
        f"{BOOK}; worked by hand", "derived", (6.8994,),
        lambda: [bordered()[1] - _after_one_more()[0]], absolute=1e-4, how="kriging.next_tests",
        because="kept to four decimals",
    ),
    Case(
        "restricted-likelihood", "fields", "Restricted likelihood less the density of contrasts",
        "Definition: orthonormal error contrasts", "derived", (0.0,), _likelihood_less_density,
        absolute=1e-10, how="System.log_likelihood",
    ),
)  # fmt: skip
