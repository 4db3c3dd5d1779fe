"""Splines on equal knots are those of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from geoprofile.hydraulics.equal_knots import Curves, Splines

KNOTS = np.linspace(-3.0, 2.0, 48)


def test_columns_at_their_own_places() -> None:
    """Complex columns, inside and at both ends."""
    rng = np.random.default_rng(1)
    values = rng.normal(size=(48, 3)) + 1j * rng.normal(size=(48, 3))
    x = np.sort(rng.uniform(-3.0, 2.0, (50, 3)), axis=0)
    x[0], x[-1] = -3.0, 2.0
    found = Splines.through(KNOTS, values).at(x)
    for j in range(3):
        np.testing.assert_allclose(found[:, j], CubicSpline(KNOTS, values[:, j])(x[:, j]))


def test_curves_and_their_slopes() -> None:
    """Two curves and their slopes at the same places."""
    rng = np.random.default_rng(2)
    values, x = rng.normal(size=(2, 48)), rng.uniform(-3.0, 2.0, 60)
    found, slopes = Curves.through(KNOTS, values).at(x)
    for j in range(2):
        spline = CubicSpline(KNOTS, values[j])
        np.testing.assert_allclose(found[j], spline(x), rtol=1e-9, atol=1e-11)
        np.testing.assert_allclose(slopes[j], spline(x, 1), rtol=1e-8, atol=1e-9)


def test_a_cubic_is_met_exactly() -> None:
    """x^3 - x and its slope."""
    curve = Curves.through(KNOTS, (KNOTS**3 - KNOTS)[None, :])
    x = np.linspace(-3.0, 2.0, 31)
    found, slope = curve.at(x)
    assert found[0] == pytest.approx(x**3 - x, abs=1e-12)
    assert slope[0] == pytest.approx(3.0 * x**2 - 1.0, abs=1e-11)
