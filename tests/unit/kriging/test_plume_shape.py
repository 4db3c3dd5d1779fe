"""The section of a plume: a box smoothed by a normal, in its far tails too."""

import mpmath
import numpy as np
import plain_loops
import pytest
from scipy.special import erf

from geoprofile.kriging import Data, Prior, Support
from geoprofile.kriging.fit.plume_fit import kinds
from geoprofile.kriging.predict.compiled import box
from geoprofile.kriging.predict.plume_shape import SHAPE, PlumePrior


@pytest.mark.parametrize(("half", "variance"), [(10.0, 1.0), (1.0, 400.0), (5.0, 30.0)])
def test_box_has_all_its_digits(half, variance):
    """Against mpmath with 60 digits, up to 30 standard deviations outside: 1e-10 of the share."""
    distance = np.concatenate([[0.0, half], half + np.sqrt(variance) * np.array([0.5, 3, 10, 30])])
    with mpmath.workdps(60):
        scale = mpmath.sqrt(2 * mpmath.mpf(variance))
        true = [
            float((mpmath.erfc((v - half) / scale) - mpmath.erfc((v + half) / scale)) / 2)
            for v in distance
        ]
    for side in (1.0, -1.0):
        found = [box(side * v, half, variance) for v in distance]
        np.testing.assert_allclose(found, true, rtol=1e-10)


def test_box_fades_to_nothing():
    """At 40 standard deviations, where the share is 4e-350, it is nothing that counts."""
    assert 0.0 <= box(50.0, 10.0, 1.0) < 1e-300


@pytest.mark.parametrize("kind", kinds())
def test_compiled_shapes_equal_numpy(kind):
    """Compiled, and numpy in logarithms throughout: 1e-11 of log10, far outside and upgradient."""
    rng = np.random.default_rng(1)
    places = rng.uniform([0, -40, -20], [200, 40, 0], (40, 3))
    data = Data(support=Support.from_points(places), value=np.linspace(0.0, 2.0, 40))
    prior = PlumePrior.of(data, Prior(azimuth_deg=70.0), kind)
    vectors = rng.normal(size=(25, prior.centre.size))
    xyz = rng.uniform([-800, -800, -60], [1200, 800, 20], (300, 3))
    plain = plain_loops.log10_plume(prior, vectors, xyz)
    np.testing.assert_allclose(prior.log10_concentration(vectors, xyz), plain, atol=1e-11)
    # over intervals: log10 of the mean over their points
    points, weights = xyz.reshape(100, 3, 3), np.array([0.2, 0.5, 0.3])
    mean = np.log10(np.einsum("dng,g->dn", 10.0 ** plain.reshape(25, 100, 3), weights))
    np.testing.assert_allclose(prior.averaged(vectors, points, weights), mean, atol=1e-11)


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
