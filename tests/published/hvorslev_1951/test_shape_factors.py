"""Hvorslev (1951): shape factors, held to exact potential theory; see source.md."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from geoprofile.hydraulics import shapes


def test_sphere_is_the_radial_integral() -> None:
    """Head loss of 1 m3/s from a sphere in ground of 1 m/s is the integral of 1/(4 pi r^2)."""
    loss = quad(lambda r: 1 / (4 * math.pi * r**2), 0.15, math.inf)[0]
    assert shapes.sphere(0.3) == pytest.approx(1 / loss, rel=1e-8)


def test_flat_end_in_free_ground_takes_more_than_at_a_upper_boundary() -> None:
    """2.75 D in free ground; a disc at an upper boundary takes 2 D (case 3)."""
    assert shapes.flat_end(0.1) / (2 * 0.1) == pytest.approx(1.375)


def test_interval_at_upper_boundary_is_half_an_interval_of_twice_the_length() -> None:
    """The upper boundary is a mirror: F of case 7 is half of F of case 8 at twice the length."""
    half = shapes.interval_in_ground(6.0, 0.05, kv_kh=0.3) / 2
    assert shapes.interval_at_upper_boundary(3.0, 0.05, kv_kh=0.3) == pytest.approx(half, rel=1e-14)


@pytest.mark.parametrize("ratio", [8.0, 20.0, 100.0])
def test_short_form_of_case_8_is_within_a_percent(ratio: float) -> None:
    """ln(L/rw) stands for asinh(L/(2 rw)) to 0.8 % when L/rw is 8 or more."""
    p = 2 * math.pi * ratio / shapes.interval_in_ground(ratio, 1.0)
    assert math.log(ratio) == pytest.approx(p, rel=0.008)


@pytest.mark.parametrize("length", [0.5, 3.0, 30.0])
def test_mean_head_ratio_is_the_double_integral_of_the_line_potential(length: float) -> None:
    """P averaged along the interval is the mean potential of a uniform line on its own wall."""
    radius = 0.05

    def potential(z: float) -> float:
        return 0.5 * (math.asinh((length - z) / radius) + math.asinh(z / radius))

    mean = quad(potential, 0, length, limit=200)[0] / length
    found = shapes.log_ratio_mean_head(length, radius)
    assert found == pytest.approx(mean, rel=1e-8)


def test_anisotropy_only_stretches_the_radius() -> None:
    """P with Kv/Kh 0.1 is P of an isotropic ground with the radius times sqrt(0.1)."""
    stretched = shapes.interval_in_ground(2.0, 0.05 * np.sqrt(0.1))
    assert shapes.interval_in_ground(2.0, 0.05, kv_kh=0.1) == pytest.approx(stretched, rel=1e-14)
