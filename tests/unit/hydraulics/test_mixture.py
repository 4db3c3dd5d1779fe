"""Quantiles of many weighted values, found without sorting them, are those of the sorted ones."""

from __future__ import annotations

import numpy as np
import pytest

from geoprofile.hydraulics.mixture import mixed
from geoprofile.hydraulics.posterior import LEVELS, quantiles

COMB = np.linspace(-3.2, 3.2, 65)


def _sorted(value: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """All values in order, the weight up to the middle of each, and the levels between them."""
    order = np.argsort(value, kind="stable")
    sums = np.cumsum(weight[order]) - 0.5 * weight[order]
    return np.interp(LEVELS, sums, value[order])


@pytest.mark.parametrize("digits", [16, 1, 0])
@pytest.mark.parametrize("count", [1, 7, 30, 4096])
def test_quantiles_of_draws(count: int, digits: int) -> None:
    """Few and many draws, some of no weight, with and without equal ones."""
    rng = np.random.default_rng(count)
    value, weight = np.round(rng.normal(size=count), digits), rng.random(count) ** 3
    weight[rng.random(count) < 0.2] = 0.0
    weight[0] += 0.01
    weight /= weight.sum()
    assert quantiles(value, weight) == pytest.approx(_sorted(value, weight), abs=1e-10)


def test_one_value_only() -> None:
    """Draws that do not differ have one quantile."""
    assert quantiles(np.full(50, 3.3), np.full(50, 0.02)) == (3.3, 3.3, 3.3)


@pytest.mark.parametrize("digits", [16, 1])
def test_mixtures_of_normals(digits: int) -> None:
    """Forty normals in six mixtures, some left out for their share; rounded ones meet in values."""
    rng = np.random.default_rng(4)
    mean = np.round(rng.normal(size=(40, 6)), digits)
    sd = np.round(0.1 + rng.random((40, 6)), digits)
    share = rng.random(40) ** 12
    share /= share.sum()
    found, spread = mixed(share, mean, sd)
    kept = share > 1e-4
    own = share[kept] / share[kept].sum()
    density = np.exp(-0.5 * COMB**2)
    weight = (own[:, None] * density / density.sum()).ravel()
    for j in range(6):
        values = (mean[kept, j][:, None] + sd[kept, j][:, None] * COMB).ravel()
        assert found[j] == pytest.approx(_sorted(values, weight), abs=1e-10)
    centre = own @ mean[kept]
    variance = own @ ((mean[kept] - centre) ** 2 + sd[kept] ** 2)
    assert spread == pytest.approx(np.sqrt(variance), rel=1e-12)


def test_mixture_of_equal_normals_is_one() -> None:
    """All values meet: the median is the mean, the others those of one normal, 1.96 sds away."""
    found, spread = mixed(np.full(5, 0.2), np.full((5, 1), 2.0), np.full((5, 1), 0.5))
    assert found[0] == pytest.approx([2.0 - 0.98, 2.0, 2.0 + 0.98], abs=0.01)  # steps of 0.1 sd
    assert spread == pytest.approx([0.5])
