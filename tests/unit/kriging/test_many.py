"""Many data, realisations, plume-shaped means."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.covariance.functions import COVARIANCES
from geoprofile.kriging.predict.plume_shape import Plume, PlumePrior
from geoprofile.kriging.predict.simulation import frequencies
from geoprofile.kriging.solve import local
from geoprofile.kriging.solve.local import compact_order


@pytest.fixture(scope="module")
def many():
    """700 values under known parameters."""
    rng = np.random.default_rng(1)
    places = rng.uniform([0, 0, -20], [300, 300, 0], (700, 3))
    parameters = kriging.Parameters(
        sill=0.5, nugget=0.05, length_along_m=60, length_across_m=30, length_vertical_m=3
    )
    data = kriging.Data(support=kriging.Support.from_points(places), value=rng.normal(size=700))
    return kriging.krige(data, parameters)


def test_many_data_keep_the_mean_and_nearly_the_spread(many):
    """Above 600 data the mean is from all data, to 1e-5, and the sd within 2 %."""
    axes = [np.arange(0, 300, 15.0), np.arange(0, 300, 15.0), np.arange(-20, 0, 2.0)]
    cells = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 3)
    quick, exact = many.predict(cells), many.predict(cells, exact=True)
    np.testing.assert_allclose(quick.mean, exact.mean, atol=1e-5)  # single precision
    np.testing.assert_allclose(quick.sd, exact.sd, rtol=0.02)  # stated accuracy


def smooth(nugget, covariance):
    """900 small values, so that sums are in single precision, of a field that hardly varies."""
    rng = np.random.default_rng(2)
    places = rng.uniform([0, 0, -20], [300, 300, 0], (900, 3))
    parameters = kriging.Parameters(
        covariance=covariance, sill=0.5, nugget=nugget,
        length_along_m=600, length_across_m=300, length_vertical_m=30,
    )  # fmt: skip
    value = 1e-7 * rng.normal(size=900)
    data = kriging.Data(support=kriging.Support.from_points(places), value=value)
    axes = [np.linspace(100, 160, 12), np.linspace(100, 160, 12), np.linspace(-12, -6, 10)]
    return kriging.krige(data, parameters), np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 3)


@pytest.mark.parametrize("nugget", [1e-8, 1e-6])
def test_spread_is_kept_without_noise(nugget):
    """Next to no noise: the sd is from sums in double precision, within 2 %."""
    model, cells = smooth(nugget, "matern 3/2")
    quick, exact = model.predict(cells), model.predict(cells, exact=True)
    assert model.members[0].sums.kind is np.float32
    np.testing.assert_allclose(quick.sd, exact.sd, rtol=0.02)


@pytest.mark.parametrize("covariance", sorted(COVARIANCES))
def test_spread_in_single_precision_is_that_of_double(covariance, monkeypatch):
    """The least noise at which it is used: both agree to 2e-3 of the sd."""
    quick, cells = smooth(0.5 * local.LEAST_NOISE, covariance)
    single = quick.predict(cells).sd
    monkeypatch.setattr(local, "LEAST_NOISE", np.inf)
    double = quick.predict(cells).sd
    assert (single != double).any()
    np.testing.assert_allclose(single, double, rtol=2e-3)


def test_blocks_of_cells_lie_close_together():
    """4096 cells of a unit cube in blocks of 64: each is far smaller than the cube."""
    places = np.random.default_rng(0).uniform(0, 1, (4096, 3))
    order = compact_order(places, 64)
    assert sorted(order) == list(range(4096))
    spans = [np.ptp(places[block], axis=0).max() for block in order.reshape(64, 64)]
    assert max(spans) < 0.4  # a cube of a 64th is 0.25 wide


@pytest.mark.parametrize("tilt", [0.0, 1e-9, 0.01, 1.0])
def test_blocks_of_a_map_are_as_wide_as_long(tilt):
    """4096 cells of a unit square, level or tilted, in blocks of 64: none is a strip."""
    flat = np.random.default_rng(0).uniform(0, 1, (4096, 2))
    order = compact_order(np.column_stack([flat, tilt * flat[:, 0]]), 64)
    assert sorted(order) == list(range(4096))
    spans = [np.ptp(flat[block], axis=0).max() for block in order.reshape(64, 64)]
    assert max(spans) < 0.35  # a square of a 64th is 0.125 wide


@pytest.mark.parametrize(("count", "size"), [(0, 8), (1, 8), (8, 8), (9, 8), (1000, 7)])
def test_any_number_of_cells_is_cut(count, size):
    """All in one place too: every cell once."""
    assert sorted(compact_order(np.zeros((count, 3)), size)) == list(range(count))


@pytest.mark.parametrize("name", sorted(COVARIANCES))
def test_waves_have_the_models_spectrum(name):
    """The mean cosine over drawn waves is the correlation, to Monte Carlo error."""
    waves = frequencies(COVARIANCES[name], 40_000, np.random.default_rng(3))
    for h in (0.2, 0.7, 1.5):
        cosine = np.cos(waves @ np.array([h, 0.0, 0.0]))
        error = 4 * cosine.std() / 200  # four standard errors
        assert cosine.mean() == pytest.approx(COVARIANCES[name].correlation(h), abs=error)


@pytest.mark.parametrize("mean", ["constant", "quadratic"])
def test_realisations_have_the_krigings_mean_and_spread(detected, truth, cells, mean):
    """400 realisations: mean and sd as predicted, within Monte Carlo error."""
    from dataclasses import replace

    model = kriging.krige(detected, replace(truth, mean=mean))
    drawn = model.simulate(cells, realisations=400, rng=np.random.default_rng(5))
    found = model.predict(cells)
    apart = (drawn.mean(0) - found.mean) / found.sd
    assert np.sqrt((apart**2).mean()) < 0.07  # 1/sqrt(400) = 0.05
    assert np.mean(drawn.std(0) / found.sd) == pytest.approx(1.0, abs=0.03)


def test_stream_gives_the_blocks_of_simulate(fitted, cells):
    """Streaming with the same seed gives the same numbers."""
    whole = fitted.simulate(cells, realisations=6, rng=np.random.default_rng(5))
    for rows, values in fitted.stream(cells, realisations=6, rng=np.random.default_rng(5)):
        np.testing.assert_array_equal(whole[:, rows], values)


def plume_data(noise=0.05):
    """A Gaussian plume along grid east, sampled in 14 holes; its numbers are known."""
    rng = np.random.default_rng(11)
    spots = np.column_stack([rng.uniform(-40, 200, 14), rng.normal(0, 25, 14)])
    lines, value, group = [], [], []
    for hole, (x, y) in enumerate(spots):
        for top in np.arange(-1.0, -20.0, -3.0):
            z = top - 1.0
            c = 0.01
            if x > 0:
                wide, high = 100 + 2 * 0.8 * x, 4 + 2 * 0.02 * x
                c += (
                    2000
                    * np.exp(-x / 150)
                    * np.sqrt(400 / wide / high)
                    * np.exp(-(y**2) / wide / 2 - (z + 9) ** 2 / high / 2)
                )
            value.append(np.log10(c) + noise * rng.normal())
            lines.append(np.array([[x, y, top], [x, y, top - 2.0]]))
            group.append(hole)
    value = np.array(value)
    hidden = value < -0.5
    return kriging.Data(
        support=kriging.Support.from_lines(lines),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, -0.5, np.nan),
        group=np.array(group),
    )


def test_direction_of_a_plume_is_found():
    """Flow along east (90 degrees), believed 20 degrees off: found to 8 degrees."""
    model = kriging.fit(
        plume_data(),
        rng=np.random.default_rng(0),
        prior=kriging.Prior(azimuth_deg=70),
        mean="plume",
    )
    assert model.parameters.azimuth_deg == pytest.approx(90.0, abs=8.0)
    back = kriging.from_json(kriging.to_json(model), model.data)
    targets = np.random.default_rng(1).uniform([0, -50, -20], [200, 50, 0], (50, 3))
    np.testing.assert_array_equal(model.predict(targets).mean, back.predict(targets).mean)


def test_stack_prefers_the_shape_that_predicts():
    """On a plume the plume-shaped members carry most weight; scores come from real refits."""
    model = kriging.fit(
        plume_data(),
        rng=np.random.default_rng(0),
        prior=kriging.Prior(azimuth_deg=80),
        mean="stack",
    )
    plumes = sum(w for w, m in zip(model.weights, model.members, strict=True) if m.parameters.shape)
    assert plumes > 0.5
    assert sum(model.weights) == pytest.approx(1.0)
    assert kriging.cross_validate(model).refitted
    batch = kriging.next_tests(
        model, kriging.Support.from_points([[50.0, 0, -9], [-300.0, 0, -9]]),
        np.random.default_rng(1).uniform([0, -50, -20], [200, 50, 0], (200, 3)), 0.7,
    )  # fmt: skip
    assert batch.index[0] == 0


def test_not_plume_like_is_said(detected):
    """A stationary random field is not called a plume."""
    model = kriging.fit(detected, rng=np.random.default_rng(0), mean="stack")
    plumes = sum(w for w, m in zip(model.weights, model.members, strict=True) if m.parameters.shape)
    said = any("not plume-like" in words for words in model.warnings)
    assert said == (plumes < 0.5)


@pytest.mark.parametrize("kind", ["plume", "bending plume", "two plumes"])
def test_slopes_of_the_plume_are_derivatives(kind):
    """Forward differences of the shape agree with central ones."""
    data = plume_data()
    prior = PlumePrior.of(data, kriging.Prior(azimuth_deg=80), kind)
    vector = 0.3 * np.random.default_rng(2).normal(size=prior.centre.size)
    targets = np.random.default_rng(1).uniform([10, -20, -15], [150, 20, -3], (30, 3))
    slope = Plume(prior, vector).basis(targets)
    step = 1e-5 * np.eye(vector.size)
    up = prior.log10_concentration(vector + step, targets)
    down = prior.log10_concentration(vector - step, targets)
    np.testing.assert_allclose(slope, ((up - down) / 2e-5).T, atol=2e-2, rtol=2e-3)
