"""Ordinary kriging in three dimensions beside general libraries, and a data set of the field."""

from __future__ import annotations

from functools import cache

import numpy as np

from geoprofile import kriging
from geoprofile.validation.case import Array, Case

SILL, NUGGET = 0.7, 0.1
STRETCHED, EVEN = (30.0, 15.0, 5.0), (20.0, 20.0, 20.0)
# our name, theirs, their options; their Matern has sqrt(nu), ours sqrt(2 nu)
MODELS: tuple[tuple[str, str, dict[str, float]], ...] = (
    ("exponential", "Exponential", {}),
    ("spherical", "Spherical", {}),
    ("matern 3/2", "Matern", {"nu": 1.5, "rescale": 2**0.5}),
    ("matern 5/2", "Matern", {"nu": 2.5, "rescale": 2**0.5}),
)
VARIOGRAMS = ("Exponential", "Spherical", "Gaussian", "Matern", "Stable", "Rational", "Cubic")
HOW = "kriging.krige with nugget; theirs is the variance of a measurement, so it is taken off"
MEUSE = "Meuse topsoil, zinc, 155 places (R package sp; Pebesma and Bivand 2005)"


def drawn(seed: int) -> tuple[Array, Array, Array]:
    """Places and values of 60 data, and 40 targets."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 100, (60, 3)), rng.normal(size=60), rng.uniform(0, 100, (40, 3))


def ours(seed: int, lengths: tuple[float, float, float], covariance: str) -> tuple[Array, Array]:
    """The engine's mean and variance; azimuth 90 puts the long axis along easting."""
    places, value, targets = drawn(seed)
    parameters = kriging.Parameters(
        covariance=covariance, sill=SILL, nugget=NUGGET, length_along_m=lengths[0],
        length_across_m=lengths[1], length_vertical_m=lengths[2], azimuth_deg=90.0,
    )  # fmt: skip
    data = kriging.Data(support=kriging.Support.from_points(places), value=value)
    found = kriging.krige(data, parameters).predict(targets)
    return found.mean, found.sd**2


def _apart(own: tuple[Array, Array], mean: Array, variance: Array) -> list[float]:
    """Largest distance of the means, and of the variances."""
    return [
        float(np.max(np.abs(own[0] - mean))),
        float(np.max(np.abs(own[1] - (variance - NUGGET)))),
    ]


def _pykrige() -> list[float]:
    from pykrige.ok3d import OrdinaryKriging3D

    places, value, targets = drawn(3)
    found: list[float] = []
    for covariance in ("exponential", "spherical"):
        # PyKrige's exponential range is three lengths
        reach = STRETCHED[0] * (3.0 if covariance == "exponential" else 1.0)
        peer = OrdinaryKriging3D(
            *places.T, value, variogram_model=covariance,
            variogram_parameters={"psill": SILL, "range": reach, "nugget": NUGGET},
            anisotropy_scaling_y=STRETCHED[0] / STRETCHED[1],
            anisotropy_scaling_z=STRETCHED[0] / STRETCHED[2], exact_values=False,
        )  # fmt: skip
        mean, variance = peer.execute("points", *targets.T)
        found += _apart(ours(3, STRETCHED, covariance), np.asarray(mean), np.asarray(variance))
    return found


def _gstools() -> list[float]:
    import gstools

    places, value, targets = drawn(4)
    found: list[float] = []
    for covariance, model, options in MODELS:
        for lengths in (STRETCHED, EVEN):
            peer_model = getattr(gstools, model)(
                dim=3, var=SILL, len_scale=list(lengths), nugget=NUGGET, **options
            )
            peer = gstools.krige.Ordinary(peer_model, places.T, value, exact=False)
            mean, variance = peer(targets.T, return_var=True)
            found += _apart(ours(4, lengths, covariance), mean, variance)
    return found


def _score(covariance: Array, value: Array) -> float:
    """Mean -ln density of each value predicted from the others, constant unknown mean."""
    inverse = np.linalg.inv(covariance)
    level = inverse.sum(1)
    projection = inverse - np.outer(level, level) / level.sum()
    variance = 1 / np.diag(projection)
    residual = variance * (projection @ value)
    return float(np.mean(0.5 * residual**2 / variance + 0.5 * np.log(2 * np.pi * variance)))


@cache
def _meuse() -> tuple[float, float]:
    """Our leave-one-out score less the best of seven fitted variograms; share in our 95 %."""
    import gstools
    from skgstat import data as sets

    found, value = sets.meuse(variable="zinc")["sample"]
    places = np.asarray(found, float)
    log10 = np.log10(np.asarray(value, float)).ravel()
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    centre, gamma = gstools.vario_estimate(places.T, log10, np.linspace(0, 1500, 16))
    theirs = []
    for name in VARIOGRAMS:
        model = getattr(gstools, name)(dim=2)
        model.fit_variogram(centre, gamma, nugget=True)
        theirs.append(_score(model.covariance(apart) + model.nugget * np.eye(log10.size), log10))
    support = kriging.Support.from_points(np.column_stack([places, np.zeros(log10.size)]))
    data = kriging.Data(support=support, value=log10)
    own = kriging.cross_validate(kriging.fit(data, rng=np.random.default_rng(0)))
    return float(own.log_score) - min(theirs), float(own.coverage_95)


CASES = (
    Case(
        "peer-pykrige", "fields", "60 data, 40 places, stretched: largest distance from PyKrige",
        "PyKrige, OrdinaryKriging3D", "derived", (0.0,) * 4, _pykrige, absolute=1e-8, how=HOW,
        labels=tuple(
            f"{c}, {w}" for c in ("exponential", "spherical") for w in ("mean", "variance")
        ),
        needs=("pykrige",), is_slow=True,
    ),
    Case(
        "peer-gstools", "fields", "60 data, 40 places, four models, stretched and not: largest "
        "distance from GSTools", "GSTools, krige.Ordinary", "derived", (0.0,) * 16, _gstools,
        absolute=1e-8, how=HOW,
        labels=tuple(
            f"{name}, {s}, {w}" for name, *_ in MODELS for s in ("stretched", "even")
            for w in ("mean", "variance")
        ),
        needs=("gstools",), is_slow=True,
    ),
    Case(
        "peer-meuse", "fields", "Leave-one-out score less the best of seven fitted variograms",
        f"{MEUSE}; variograms by GSTools; below 0 is better", "derived", (0.0,),
        lambda: _meuse()[:1], inside=(-1.0, 0.0), how="kriging.fit and cross_validate",
        needs=("gstools", "scikit-gstat"), is_slow=True,
    ),
    Case(
        "peer-meuse-coverage", "fields", "Share of the same values inside their 95 %", MEUSE,
        "derived", (0.95,), lambda: _meuse()[1:], inside=(0.85, 1.0),
        how="kriging.fit and cross_validate", needs=("gstools", "scikit-gstat"), is_slow=True,
    ),
)  # fmt: skip
