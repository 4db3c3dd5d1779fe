"""The one Bessel ratio against a general library, compiled and as plain Python."""

import cmath

import numpy as np
import pytest
from scipy.special import kve

from geoprofile.hydraulics import bessel

NOTHING = np.zeros((2, 3))


def ratio(x: complex) -> complex:
    """K0(x)/(x K1(x)): one mode without wave."""
    one, none = np.ones(1), np.zeros(1)
    return complex(bessel.sum_of_modes(np.array([x * x]), one, none, NOTHING, 1.0)[0])


ANGLES = (-1.57, -0.8, 0.0, 0.4, 1.2, 1.57)


@pytest.mark.parametrize("size", [1e-6, 0.01, 0.7, 1.99, 2.01, 5.0, 40.0, 900.0])
@pytest.mark.parametrize("angle", ANGLES)
def test_ratio_is_that_of_a_general_library(size: float, angle: float) -> None:
    """K0(x)/(x K1(x)) to 1e-12 over the right half-plane."""
    x = size * cmath.exp(1j * angle)
    exact = kve(0, x) / (x * kve(1, x))
    assert abs(ratio(x) / exact - 1) < 1e-12


@pytest.mark.parametrize("x", [0.3 + 0.1j, 1.5 - 1.0j, 1.9j + 0.01, 3.0 + 2.0j, 50.0 - 1.0j])
def test_plain_python_and_compiled_agree(x: complex) -> None:
    """Series of small numbers and rational function of large ones: compilation changes nothing."""
    square = x * x
    loop = bessel.near if abs(square) < bessel.SERIES_BELOW else bessel.far
    found = complex(*loop.py_func(square.real, square.imag))
    assert found == pytest.approx(ratio(x), rel=1e-13)


def test_polynomial_is_that_of_numpy() -> None:
    """Eleven coefficients at a complex place."""
    coefficients, place = np.arange(1.0, 12.0), 0.3 - 0.4j
    found = complex(*bessel.polynomial.py_func(place.real, place.imag, *coefficients))
    assert found == pytest.approx(np.polynomial.polynomial.polyval(place, coefficients), rel=1e-13)


def test_sum_of_modes_adds_direct_terms_and_tail() -> None:
    """Modes whose wave is small are summed, the others taken from the tail."""
    weight, wave = np.array([0.5, 0.0, 0.2, 0.1]), np.array([0.0, 0.5, 1.0, 200.0])
    slopes = weight[:, None] * np.vstack([np.zeros(3), bessel.ratio_slopes(wave[1:] ** 2)])
    tail = np.zeros((5, 3))
    tail[:-1] = slopes[::-1].cumsum(0)[::-1]
    q = np.array([0.3 + 0.4j, 2.0 + 0.0j])
    found = np.empty(2, dtype=complex)
    bessel.add_modes.py_func(found, q, weight, wave**2, tail, 1e-4)
    x = np.sqrt(q[:, None] + wave**2)
    exact = (weight * kve(0, x) / (x * kve(1, x))).sum(1)
    assert found == pytest.approx(exact, rel=1e-10)
    assert bessel.sum_of_modes(q, weight, wave, tail, 1e-4) == pytest.approx(found, rel=1e-13)


def test_slopes_are_derivatives_by_the_square() -> None:
    """First and half second slope against finite differences."""
    u, h = np.array([0.2, 1.0, 9.0]), 1e-3
    below, here, above = (bessel.ratio_slopes(u + d)[:, 0] for d in (-h, 0.0, h))
    slopes = bessel.ratio_slopes(u)
    assert slopes[:, 1] == pytest.approx((above - below) / (2 * h), rel=1e-4)
    assert slopes[:, 2] == pytest.approx((above - 2 * here + below) / (2 * h**2), rel=1e-3)
