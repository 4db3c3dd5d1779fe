"""Covariance models, interval supports and the compiled loops."""

import numpy as np
import plain_loops
import pytest
from scipy.integrate import dblquad, quad
from scipy.special import gamma, kv

from geoprofile import kriging
from geoprofile.kriging.covariance import compiled, kernels
from geoprofile.kriging.covariance.functions import COVARIANCES, EXPONENTIAL, SPHERICAL
from geoprofile.kriging.covariance.overlaps import Overlaps
from geoprofile.kriging.covariance.support import nodes_for
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant


@pytest.mark.parametrize(
    ("name", "nu"), [("exponential", 0.5), ("matern 3/2", 1.5), ("matern 5/2", 2.5)]
)
def test_matern_family_is_its_bessel_form(name, nu):
    """rho(h) = 2^(1-nu)/Gamma(nu) x^nu K_nu(x), x = sqrt(2 nu) h (x = h for nu = 1/2)."""
    h = np.linspace(0.01, 6.0, 50)
    x = np.sqrt(2 * nu) * h
    bessel = 2 ** (1 - nu) / gamma(nu) * x**nu * kv(nu, x)
    np.testing.assert_allclose(COVARIANCES[name].correlation(h), bessel, rtol=1e-12)


def test_spherical_integral_scale_is_three_eighths():
    """The integral of the spherical correlation is 3/8 of its range (closed form)."""
    assert quad(SPHERICAL.correlation, 0, 1)[0] == pytest.approx(3 / 8, abs=1e-10)


@pytest.mark.parametrize("length", [1e-6, 0.1, 1.0, 3.0, 30.0])
def test_exponential_interval_variance_has_closed_form(length):
    """Mean correlation inside an interval is 2 (l - 1 + exp(-l)) / l^2."""
    closed = 2 * (length + np.expm1(-length)) / length**2
    found = EXPONENTIAL.within(np.array([length]))[0][0]
    assert found == pytest.approx(closed, abs=1e-9 if length > 1e-3 else 1e-4)  # cancellation


@pytest.mark.parametrize("length", [0.4, 1.0, 2.5])
def test_spherical_interval_variogram_has_closed_form(length):
    """Mean variogram l/2 - l^3/20 within the range, 1 - 3/(4l) + 1/(5 l^2) beyond."""
    closed = length / 2 - length**3 / 20 if length <= 1 else 1 - 0.75 / length + 0.2 / length**2
    assert 1 - SPHERICAL.within(np.array([length]))[0][0] == pytest.approx(closed, abs=1e-12)


@pytest.mark.parametrize("name", sorted(COVARIANCES))
def test_slopes_are_derivatives(name):
    """slope() and the slope of within() match central differences."""
    model, h, step = COVARIANCES[name], np.array([0.2, 0.7, 0.95]), 1e-6
    numeric = (model.correlation(h + step) - model.correlation(h - step)) / (2 * step)
    np.testing.assert_allclose(model.slope(h), numeric, atol=1e-8)
    numeric = (model.within(h + step)[0] - model.within(h - step)[0]) / (2 * step)
    np.testing.assert_allclose(model.within(h)[1], numeric, atol=1e-8)


@pytest.mark.parametrize("name", sorted(COVARIANCES))
def test_compiled_loops_equal_numpy(name):
    """Compiled and numpy kernels agree to rounding."""
    rng = np.random.default_rng(5)
    points, weights = rng.normal(size=(2, 3, 30)), np.array([0.4, 0.6])
    targets, shape = rng.normal(size=(20, 3)), COVARIANCES[name].shape
    ours, theirs = np.empty((20, 30)), np.empty((20, 30))
    kernels.fill(targets, points, weights, shape, ours)
    plain_loops.fill(targets, points, weights, shape, theirs)
    np.testing.assert_allclose(ours, theirs, atol=1e-13)
    factor = rng.normal(size=(30, 30))
    factor += factor.T
    np.fill_diagonal(factor, 0.0)
    np.testing.assert_allclose(
        kernels.slopes(points, weights, shape, factor),
        plain_loops.slopes(points, weights, shape, factor),
        atol=1e-10,
    )


@pytest.mark.parametrize("name", sorted(COVARIANCES))
def test_single_precision_is_good_to_seven_digits(name):
    """The compiled loop in single precision differs by less than 1e-6 of the sill."""
    rng = np.random.default_rng(7)
    points, weights = 3.0 * rng.normal(size=(2, 3, 300)), np.array([0.4, 0.6])
    targets, shape = 3.0 * rng.normal(size=(200, 3)), COVARIANCES[name].shape
    double, single = np.empty((200, 300)), np.empty((200, 300), dtype=np.float32)
    kernels.fill(targets, points, weights, shape, double)
    parts = (part.astype(np.float32) for part in (targets, points, weights, shape))
    kernels.fill_single(*parts, single)
    np.testing.assert_allclose(single, double, atol=1e-6)


@pytest.mark.parametrize("name", sorted(COVARIANCES))
@pytest.mark.parametrize("count", [1, 2, 3, 5, 1021])
def test_single_sums_are_those_of_double(name, count):
    """Any number of data: the sum is added to what is there, to 3e-7 of a sill for each datum."""
    rng = np.random.default_rng(count)
    points, weights = 3.0 * rng.normal(size=(2, 3, count)), np.array([0.4, 0.6])
    targets, shape = 3.0 * rng.normal(size=(50, 3)), COVARIANCES[name].shape
    factors, whole = rng.normal(size=count), np.empty((50, count))
    plain_loops.fill(targets, points, weights, shape, whole)
    parts = (part.astype(np.float32) for part in (targets, points, weights, shape, factors))
    found = np.full(50, 7.0)
    kernels.add_single(*parts, found)
    # errors of the data are independent: they add as squares
    np.testing.assert_allclose(
        found, 7.0 + whole @ factors, rtol=0.0, atol=3e-7 * np.linalg.norm(factors)
    )


def test_exponential_keeps_its_promise():
    """Relative error below 1e-14 from 1 down to exp(-700), beside the C library's."""
    x = -np.concatenate([np.linspace(0.0, 2.0, 101), np.linspace(2.0, 700.0, 400)])
    found = np.array([compiled.power(one) for one in x.tolist()])
    np.testing.assert_allclose(found, np.exp(x), rtol=1e-14)


def test_covariance_keeps_its_digits_far_away():
    """At distances up to 30 lengths every model is right to 1e-13 of itself."""
    h = np.linspace(0.0, 30.0, 301)
    points = np.zeros((1, 3, len(h)))
    points[0, 0] = h
    for model in COVARIANCES.values():
        row = np.empty((1, len(h)))
        kernels.fill(np.zeros((1, 3)), points, np.ones(1), model.shape, row)
        np.testing.assert_allclose(row[0], model.correlation(h), rtol=1e-13, atol=1e-16)


def test_intervals_apart_match_adaptive_quadrature(truth):
    """Covariance of two intervals of two holes equals the double integral to 1e-6."""
    first = np.array([[0.0, 0.0, -5.0], [0.0, 0.0, -7.0]])
    second = np.array([[20.0, 8.0, -5.5], [20.5, 8.0, -8.0]])
    data = kriging.Data(support=kriging.Support.from_lines([first, second]), value=np.zeros(2))
    system = System.build(Layout.of(data, Constant(), truth), truth)

    def covariance(s, t):
        gap = (first[0] + s * (first[1] - first[0])) - (second[0] + t * (second[1] - second[0]))
        return np.exp(-np.linalg.norm(system.frame.turn(gap)))

    exact = dblquad(covariance, 0, 1, 0, 1, epsabs=1e-10)[0]
    assert system.correlation[0, 1] == pytest.approx(exact, abs=1e-6)


def between(first, second, name, lengths=(60.0, 30.0, 4.0)):
    """Mean correlation between two straight intervals: the engine's, and by adaptive quadrature."""
    parameters = kriging.Parameters(
        covariance=name, sill=1.0, nugget=0.1, azimuth_deg=60.0,
        length_along_m=lengths[0], length_across_m=lengths[1], length_vertical_m=lengths[2],
    )  # fmt: skip
    data = kriging.Data(support=kriging.Support.from_lines([first, second]), value=np.zeros(2))
    system = System.build(Layout.of(data, Constant(), parameters), parameters)
    ends = [system.frame.turn(np.asarray(line, dtype=float)) for line in (first, second)]

    def inner(s):
        """Integral over the second interval, split where it passes the point on the first."""
        place = ends[0][0] + s * (ends[0][1] - ends[0][0])
        chord = ends[1][1] - ends[1][0]
        nearest = np.clip((place - ends[1][0]) @ chord / (chord @ chord), 0.0, 1.0)

        def at(t):
            return float(
                COVARIANCES[name].correlation(np.linalg.norm(place - ends[1][0] - t * chord))
            )

        return quad(at, 0, 1, points=[nearest], epsabs=1e-9, limit=200)[0]

    share = (
        (ends[1] - ends[0][0]) @ (ends[0][1] - ends[0][0]) / np.sum(np.ptp(ends[0], axis=0) ** 2)
    )
    breaks = np.clip(share, 0.0, 1.0)
    exact = quad(inner, 0, 1, points=breaks, epsabs=1e-8, limit=200)[0]
    return system.correlation[0, 1], exact


@pytest.mark.parametrize("name", ["exponential", "matern 3/2", "matern 5/2"])
@pytest.mark.parametrize("length", [0.02, 0.3, 1.5, 3.5, 12.0])
def test_neighbours_in_a_hole_match_adaptive_quadrature(name, length):
    """Two intervals that share an end, vertical or inclined: the double integral to 1e-6."""
    for lean in (0.0, 0.4):
        step = length * np.array([lean, 0.2 * lean, -1.0])
        found, exact = between([np.zeros(3), step], [step, 1.7 * step], name)
        assert found == pytest.approx(exact, abs=2e-6 if length > 10 else 1e-6)


@pytest.mark.parametrize("name", sorted(COVARIANCES))
@pytest.mark.parametrize("place", [(0.0, 1.0), (0.2, 0.5), (0.6, 1.5), (-0.5, 1.2)])
def test_overlapping_intervals_match_adaptive_quadrature(name, place):
    """The same, a part, the end, and more than an interval: the double integral to 1e-6."""
    step = np.array([0.3, 0.1, -3.0])
    found, exact = between([np.zeros(3), step], [place[0] * step, place[1] * step], name)
    assert found == pytest.approx(exact, abs=1e-6)


@pytest.mark.parametrize("gap", [1.0, 3.0])
def test_intervals_of_a_spherical_field_match_to_5e_4(gap):
    """Where the range ends between two intervals of a hole, Gauss points are off by 5e-4."""
    found, exact = between(
        [np.zeros(3), [0, 0, -3.0]], [[0, 0, -2.0 - gap], [0, 0, -5.0 - gap]], "spherical"
    )
    assert found == pytest.approx(exact, abs=5e-4)


def test_repeated_interval_is_no_better_known_than_itself():
    """Two tests of one interval correlate as the interval does with itself, not more."""
    line = np.array([[0.0, 0, -5.0], [0, 0, -9.0]])
    assert between(line, line, "exponential")[0] == pytest.approx(
        EXPONENTIAL.within(np.array([1.0]))[0][0], abs=1e-12
    )


def test_only_straight_intervals_are_taken_for_a_line():
    """Of three intervals at one place, one with a point on its chord and one with a corner."""
    line = np.array([[0.0, 0, 0], [0, 0, -4.0]])
    straight, bent = np.insert(line, 1, [0, 0, -1.0], 0), np.insert(line, 1, [0.5, 0, -1.0], 0)
    found = Overlaps.of([line, straight, bent])
    assert sorted([*found.first, *found.second]) == [0, 1]


def test_more_gauss_points_for_longer_intervals():
    """A point needs one node; an interval beyond one correlation length eight."""
    assert [nodes_for(length) for length in (0.0, 0.05, 0.5, 3.0)] == [1, 2, 4, 8]


def test_curved_interval_is_sampled_along_the_hole():
    """The middle of a path with a corner lies at half its length, not at half its chord."""
    path = np.array([[0, 0, 0], [0, 0, -3.0], [1.0, 0, -3.0]])
    support = kriging.Support.from_lines([path])
    np.testing.assert_allclose(support.centre, [[0, 0, -2.0]])
