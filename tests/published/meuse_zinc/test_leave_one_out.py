"""Zinc in the Meuse topsoil: leave-one-out score beside a variogram library's best model."""

import numpy as np
import pytest

from geoprofile import kriging

MODELS = ("Exponential", "Spherical", "Gaussian", "Matern", "Stable", "Rational", "Cubic")


def zinc():
    """Places (n, 2) and log10 zinc (n,)."""
    data = pytest.importorskip("skgstat.data")
    places, value = data.meuse(variable="zinc")["sample"]
    return np.asarray(places, float), np.log10(np.asarray(value, float)).ravel()


def score(covariance, value):
    """Mean -ln density of each value predicted from the others, constant unknown mean."""
    inverse = np.linalg.inv(covariance)
    level = inverse.sum(1)
    projection = inverse - np.outer(level, level) / level.sum()
    variance = 1 / np.diag(projection)
    residual = variance * (projection @ value)
    return np.mean(0.5 * residual**2 / variance + 0.5 * np.log(2 * np.pi * variance))


def test_score_is_no_worse_than_the_best_fitted_variogram():
    """Our fit, from weak priors, against the best of seven models fitted by GSTools."""
    gstools = pytest.importorskip("gstools")
    places, value = zinc()
    apart = np.linalg.norm(places[:, None] - places[None], axis=2)
    edges = np.linspace(0, 1500, 16)
    centre, gamma = gstools.vario_estimate(places.T, value, edges)
    theirs = {}
    for name in MODELS:
        model = getattr(gstools, name)(dim=2)
        model.fit_variogram(centre, gamma, nugget=True)
        matrix = model.covariance(apart) + model.nugget * np.eye(len(value))
        theirs[name] = score(matrix, value)
    support = kriging.Support.from_points(np.column_stack([places, np.zeros(len(value))]))
    data = kriging.Data(support=support, value=value)
    ours = kriging.cross_validate(kriging.fit(data, rng=np.random.default_rng(0)))
    print("ours", ours.log_score, "theirs", theirs)
    assert ours.log_score <= min(theirs.values())
    assert 0.85 <= ours.coverage_95 <= 1.0
