"""Fields between boreholes, volumes, what a next test is worth, the range of K; and peers."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.special import ndtr

from geoprofile import kriging
from geoprofile.hydraulics import analyse
from geoprofile.plugins.registry import plugins
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


def samples(value: Array | None = None) -> kriging.Data:
    """The seven samples at elevation zero."""
    places = np.column_stack([SAMPLES[:, :2], np.zeros(7)])
    return kriging.Data(
        support=kriging.Support.from_points(places),
        value=SAMPLES[:, 2] if value is None else value,
    )


def _predicted() -> list[float]:
    found = kriging.krige(samples(), COVARIANCE).predict(TARGET)
    return [float(found.mean[0]), float(found.sd[0] ** 2)]


def _bordered() -> list[float]:
    """Estimate and variance from the bordered matrix, as the book writes it."""
    places = SAMPLES[:, :2]
    matrix = np.ones((8, 8))
    matrix[7, 7] = 0.0
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    matrix[:7, :7] = 10 * np.exp(-0.3 * apart)
    right = np.append(10 * np.exp(-0.3 * np.linalg.norm(places - [65, 137], axis=1)), 1.0)
    weights = np.linalg.solve(matrix, right)
    return [float(weights[:7] @ SAMPLES[:, 2]), float(10 - weights @ right)]


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


def _one_more_by_hand() -> list[float]:
    """Variance before less variance with an eighth sample whose own variance is 0.8."""
    places = np.vstack([SAMPLES[:, :2], [66.0, 135.0]])
    right = np.append(10 * np.exp(-0.3 * np.linalg.norm(places - [65, 137], axis=1)), 1.0)
    matrix = np.ones((9, 9))
    matrix[8, 8] = 0.0
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    matrix[:8, :8] = 10 * np.exp(-0.3 * apart)
    matrix[7, 7] += 0.8
    after = 10 - float(np.linalg.solve(matrix, right) @ right)
    return [_bordered()[1] - after]


@cache
def _coverages() -> tuple[float, ...]:
    """Shares of a drawn field that lie in its 50, 80 and 95 %: 40 fields, 60 data, 50 places."""
    rng = np.random.default_rng(20)
    inside = np.zeros(3)
    scores = np.array([0.674490, 1.281552, 1.959964])
    parameters = kriging.Parameters(
        sill=0.6, length_along_m=30.0, length_across_m=15.0, length_vertical_m=3.0
    )
    for _ in range(40):
        places = np.column_stack([rng.uniform(0, 120, (110, 2)), rng.uniform(0, 15, 110)])
        step = (places[:, None] - places[None]) / [15.0, 30.0, 3.0]  # the long way is north
        matrix = 0.6 * np.exp(-np.linalg.norm(step, axis=2))
        drawn = -5 + np.linalg.cholesky(matrix + 1e-10 * np.eye(110)) @ rng.normal(size=110)
        data = kriging.Data(support=kriging.Support.from_points(places[:60]), value=drawn[:60])
        found = kriging.krige(data, parameters).predict(places[60:])
        off = np.abs(drawn[60:] - found.mean) / found.sd
        inside += [(off < z).mean() for z in scores]
    return tuple(float(v) for v in inside / 40)


def _chance() -> list[float]:
    """The chance of exceeding 594 at the target, from mean and variance by hand."""
    mean, variance = _bordered()
    return [float(ndtr((mean - 594.0) / math.sqrt(variance)))]


def _exceedance() -> list[float]:
    return [float(kriging.krige(samples(), COVARIANCE).exceedance(TARGET, 594.0)[0])]


def _above_a_cone() -> list[float]:
    """Area of a cone above a level, cut as plumes are cut."""
    from shapely.geometry import box

    from geoprofile.geometry.contours import above

    side = np.linspace(-100.0, 100.0, 401)
    height = 100.0 - np.hypot(*np.meshgrid(side, side))
    return [float(above(side, side, height, 40.0, box(-100, -100, 100, 100)).area)]


@cache
def _median_error(each: int) -> tuple[float, float]:
    """Median of K over true K, and share of the 95 % ranges that hold it: own noisy examples."""
    rng = np.random.default_rng(7)
    methods = list(plugins("methods").values())
    ratio, inside = [], []
    for method in methods if each > 1 else [m for m in methods if m.name in QUICK]:
        low, high = (-4.0, -3.0) if method.name == "underdamped" else (-6.0, -4.5)
        for k in 10 ** rng.uniform(low, high, each):
            best = analyse(method.example(float(k)), methods).best
            if best is None:
                continue
            ratio.append(best.k_m_per_s / k)
            inside.append(best.k_low_m_per_s <= k <= best.k_high_m_per_s)
    return float(np.median(ratio)), float(np.mean(inside))


def _true_k(name: str) -> float:
    """A K that the method can measure [m/s]."""
    return 3e-4 if name == "underdamped" else 2e-6


def _as_fitted() -> list[float]:
    """K of each method over the true K of its own synthetic test."""
    found = []
    for name in METHODS:
        method = plugins("methods")[name]
        result = method.run(method.example(_true_k(name)))
        found.append(float(result.k_as_fitted_m_per_s or result.k_m_per_s) / _true_k(name))
    return found


def _peer(name: str) -> list[float]:
    """Mean and variance of another library at one place among 60 data."""
    places, value, at = _sixty()
    if name == "gstools":
        import gstools

        model = gstools.Exponential(dim=3, var=0.7, len_scale=20.0)
        peer = gstools.krige.Ordinary(model, places.T, value, exact=True)
        mean, variance = peer(at.T)
        return [*mean, *variance]
    from pykrige.ok3d import OrdinaryKriging3D

    peer = OrdinaryKriging3D(
        *places.T, value, variogram_model="exponential",
        variogram_parameters={"psill": 0.7, "range": 60.0, "nugget": 0.0},
    )  # fmt: skip
    mean, variance = peer.execute("points", *at.T)
    return [*mean, *variance]


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


QUICK = ("hvorslev", "moye", "radial-storage")  # methods of the quick half
METHODS = tuple(sorted(plugins("methods")))
FIVE = tuple(f"{what} {i}" for what in ("mean", "variance") for i in range(1, 6))

CASES = (
    Case(
        "seven-samples", "fields", "Estimate and variance at (65, 137)", BOOK, "from memory",
        (592.7, 8.96), _predicted, relative=6e-4, labels=("estimate", "variance"),
        second=Second("bordered matrix of the book", _bordered, 6e-4),
    ),
    Case(
        "seven-weights", "fields", "The seven weights, printed to three digits", BOOK,
        "from memory", tuple(SAMPLES[:, 3]), _weights, absolute=6e-4,
        labels=tuple(f"sample {i}" for i in range(1, 8)),
    ),
    Case(
        "sixty-data", "fields", "60 data in 3D, exponential covariance", "Bordered matrix",
        "derived", _dual(), _ours_of_sixty, absolute=1e-8, labels=FIVE,
    ),
    Case(
        "coverage-50", "fields", "Drawn fields inside their 50 %", "Known truth", "derived",
        (0.50,), lambda: _coverages()[:1], inside=(0.45, 0.55),
    ),
    Case(
        "coverage-80", "fields", "Drawn fields inside their 80 %", "Known truth", "derived",
        (0.80,), lambda: _coverages()[1:2], inside=(0.76, 0.84),
    ),
    Case(
        "coverage-95", "fields", "Drawn fields inside their 95 %", "Known truth", "derived",
        (0.95,), lambda: _coverages()[2:], inside=(0.93, 0.97),
    ),
    Case(
        "chance-of-exceeding", "plume", "Chance of lying above a value at one place",
        "Normal distribution with the book's estimate and variance", "derived",
        tuple(_chance()), _exceedance, absolute=1e-6,
    ),
    Case(
        "area-of-a-cone", "plume", "Area in which a cone lies above a level", "pi 60^2",
        "derived", (math.pi * 3600,), _above_a_cone, "m2", relative=1e-3,
    ),
    Case(
        "one-more-test", "advice", "How much variance one more test takes off",
        "Bordered matrix with and without it", "derived", tuple(_one_more_by_hand()),
        _after_one_more, absolute=1e-6,
    ),
    Case(
        "k-as-fitted", "k-recovery", "K of a synthetic test, before any skin is thought of",
        "Known truth in", "derived", (1.0,) * len(METHODS), _as_fitted, relative=0.05,
        labels=tuple(METHODS),
    ),
    Case(
        "k-range-of-examples", "k-spread", "Share of the 95 % ranges that hold the true K",
        "Known truth in, one of three methods, no fault in the readings: nearly all", "derived",
        (0.97,), lambda: _median_error(1)[1:], inside=(0.90, 1.0),
    ),
    Case(
        "k-of-examples-more", "k-spread", "Median of K over true K, synthetic tests",
        "Known truth in, 3 of each method", "derived", (1.0,),
        lambda: _median_error(3)[:1], relative=0.05, is_slow=True,
    ),
    Case(
        "k-range-of-examples-more", "k-spread", "Share of the 95 % ranges that hold the true K",
        "Known truth in, 3 of each method, no fault in the readings: nearly all", "derived",
        (0.97,), lambda: _median_error(3)[1:], inside=(0.90, 1.0), is_slow=True,
    ),
    Case(
        "peer-pykrige", "fields", "The same 60 data by another library", "PyKrige", "derived",
        _dual(), lambda: _peer("pykrige"), absolute=1e-6, labels=FIVE, is_slow=True,
    ),
    Case(
        "peer-gstools", "fields", "The same 60 data by another library", "GSTools", "derived",
        _dual(), lambda: _peer("gstools"), absolute=1e-6, labels=FIVE, is_slow=True,
    ),
)  # fmt: skip
