"""Kriged sums in panels, in single precision where that is measured to do; the factor by tiles."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.solve import factor
from geoprofile.kriging.solve.sums import MOST_ERROR


def known(nugget, covariance="exponential"):
    """1300 values under known parameters: more than a panel, more than a tile."""
    rng = np.random.default_rng(4)
    places = rng.uniform([0, 0, -20], [300, 300, 0], (1300, 3))
    parameters = kriging.Parameters(
        covariance=covariance, sill=0.5, nugget=nugget,
        length_along_m=60, length_across_m=30, length_vertical_m=3,
    )  # fmt: skip
    support = kriging.Support.from_points(places)
    return kriging.krige(kriging.Data(support=support, value=rng.normal(size=1300)), parameters)


def test_single_precision_where_it_does():
    """White noise with a nugget: single precision, and the mean is good to 1e-5 everywhere."""
    model = known(0.2)
    sums = model.members[0].sums
    model.prepare(exact=False)
    assert sums.kind is np.float32
    assert sums.single_error <= MOST_ERROR
    cells = np.random.default_rng(5).uniform([0, 0, -20], [300, 300, 0], (3000, 3))
    quick, exact = model.predict(cells), model.predict(cells, exact=True)
    np.testing.assert_allclose(quick.mean, exact.mean, atol=1e-5)  # stated accuracy


def test_double_precision_where_it_does_not():
    """A smooth field without noise has weights of millions: single precision is refused."""
    model = known(1e-8, "matern 5/2")
    sums = model.members[0].sums
    model.prepare(exact=False)
    assert sums.single_error > MOST_ERROR
    assert sums.kind is np.float64


def test_few_data_stay_in_double_precision(detected, truth, cells):
    """Up to 600 data the mean is the sum of all weights in double precision."""
    model = kriging.krige(detected, truth)
    member = model.members[0]
    mean = member.system.cross(cells) @ member.duals + member.coefficients[0]
    np.testing.assert_allclose(model.predict(cells).mean, mean[:, 0], atol=1e-12)


@pytest.mark.parametrize("size", [5, 64, 150])
def test_factor_by_tiles_is_the_factor(size, monkeypatch):
    """Tiles of 64 give numpy's Cholesky factor, and a clean upper triangle."""
    monkeypatch.setattr(factor, "TILE", 64)
    root = np.random.default_rng(size).normal(size=(size, size))
    matrix = root @ root.T + size * np.eye(size)
    found = matrix.copy()
    assert factor.factorise(found) is None
    np.testing.assert_allclose(found, np.linalg.cholesky(matrix), atol=1e-12 * size)


def test_row_that_others_determine_is_named(monkeypatch):
    """A repeated row without noise is found by its number, in whichever tile."""
    monkeypatch.setattr(factor, "TILE", 4)
    matrix = np.eye(12)
    matrix[9, 2] = matrix[2, 9] = 1.0
    assert factor.factorise(matrix) == 9
