"""The section of a plume: a box smoothed by a normal, in its far tails too."""

import mpmath
import numpy as np
import plain_loops
import pytest
from scipy.special import erf

from geoprofile.kriging import Data, Prior, Support
from geoprofile.kriging.covariance import kernels
from geoprofile.kriging.predict.plume_shape import SHAPE, PlumePrior


def ln_box(distance, half, variance, boxes=kernels.boxes):
    """Logarithm of the share, for one box."""
    distance = np.atleast_2d(distance)
    factor, added = np.ones_like(distance), np.zeros_like(distance)
    boxes(distance, np.array([half]), np.full_like(distance, variance), factor, added)
    return (np.log(factor) + added)[0]


@pytest.mark.parametrize(("half", "variance"), [(10.0, 1.0), (1.0, 400.0), (5.0, 30.0)])
def test_box_has_all_its_digits(half, variance):
    """Against mpmath with 60 digits, up to 40 standard deviations outside: 1e-10."""
    distance = np.concatenate([[0.0, half], half + np.sqrt(variance) * np.array([0.5, 3, 10, 40])])
    with mpmath.workdps(60):
        scale = mpmath.sqrt(2 * mpmath.mpf(variance))
        there = [
            mpmath.erfc((v - half) / scale) - mpmath.erfc((v + half) / scale) for v in distance
        ]
        true = [float(mpmath.log(share / 2)) for share in there]
    np.testing.assert_allclose(ln_box(distance, half, variance), true, rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(ln_box(-distance, half, variance), true, rtol=1e-10, atol=1e-10)


def test_compiled_boxes_equal_numpy():
    """Compiled and numpy loops agree to 1e-10."""
    distance = np.linspace(-200, 200, 501)
    for half, variance in ((8.0, 0.3), (8.0, 900.0)):
        plain = ln_box(distance, half, variance, plain_loops.boxes)
        np.testing.assert_allclose(ln_box(distance, half, variance), plain, rtol=1e-10, atol=1e-10)


@pytest.fixture
def straight():
    """A prior, and a shape that runs east from (0, 0, -10) without fading or background."""
    places = np.random.default_rng(0).uniform([0, -40, -20], [200, 40, 0], (40, 3))
    data = Data(support=Support.from_points(places), value=np.linspace(0.0, 2.0, 40))
    prior = PlumePrior.of(data, Prior(azimuth_deg=90.0), "plume")
    return prior, natural(prior)


WIDTH, HEIGHT, SPREAD, RISE = 20.0, 4.0, 0.5, 0.02


def natural(prior):
    """The vector of a shape known in metres."""
    source = (np.array([0.0, 0.0, -10.0]) - prior.origin) @ prior.frame.T
    shape = dict.fromkeys(SHAPE, 0.0)
    shape |= dict(zip(("along", "across", "up"), source, strict=True))
    shape |= {"ln_width": np.log(WIDTH), "ln_height": np.log(HEIGHT), "ln_decay": -40.0}
    shape |= {"ln_spread_across": np.log(SPREAD), "ln_spread_up": np.log(RISE)}
    shape |= {"log10_source": 3.0, "log10_background": -30.0, "azimuth": np.pi / 2}
    return (np.array([shape[name] for name in SHAPE]) - prior.centre) / prior.sd


def test_every_section_carries_what_the_source_gives_off(straight):
    """Without fading the sum over a section is source times width times height, to 1e-6."""
    prior, vector = straight
    y, z = np.arange(-100, 100, 0.5) + 0.25, np.arange(-35, 15, 0.1) + 0.05
    section = np.stack(np.meshgrid([0.0], y, z, indexing="ij"), axis=-1).reshape(-1, 3)
    for distance in (5.0, 40.0, 150.0):
        found = 10 ** prior.log10_concentration(vector[None], section + np.array([distance, 0, 0]))
        assert found.sum() * 0.5 * 0.1 == pytest.approx(1e3 * WIDTH * HEIGHT, rel=1e-6)


def test_axis_far_from_the_source_is_domenicos(straight):
    """Domenico (1987), steady patch in even flow, from memory: C0 erf erf on the axis.

    Within 1 %: our source has smooth edges, which no longer counts far away.
    """
    prior, vector = straight
    x = np.array([700.0, 1000.0, 2000.0])
    axis = np.column_stack([x, np.zeros(3), np.full(3, -10.0)])
    found = 10 ** prior.log10_concentration(vector[None], axis)[0]
    across = erf(WIDTH / (4 * np.sqrt(SPREAD * x)))
    up = erf(HEIGHT / (4 * np.sqrt(RISE * x)))
    np.testing.assert_allclose(found, 1e3 * across * up, rtol=0.01)
