"""Fields that do not cross from one layer of the ground into the next."""

from dataclasses import replace

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.errors import DataError
from geoprofile.geometry.linear_surface import Cones
from geoprofile.kriging.covariance.anisotropy_frame import centred
from geoprofile.kriging.covariance.strata import Strata
from geoprofile.kriging.fit.estimation import Belief, objective, to_vector
from geoprofile.kriging.fit.validation import left_out
from geoprofile.kriging.predict.means import mean_of
from geoprofile.kriging.predict.predictor import Member
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Constant, Layered

TRUE = kriging.Parameters(
    sill=0.1,
    nugget=0.01,
    length_along_m=60.0,
    length_across_m=30.0,
    length_vertical_m=6.0,
    azimuth_deg=60.0,
)


def level(elevation_m):
    """A flat surface."""
    return Cones.through(np.zeros((1, 2)), np.array([elevation_m]))


def layered(*contacts_m):
    """Flat layers below ground at 0 m."""
    return Strata(level(0.0), tuple(level(z) for z in contacts_m))


TWO = layered(-10.0)


def build(strata, levels, *, holes=10, step=2.0, seed=5, cut=None, censored=0.0):
    """Intervals of 2 m down to 20 m in every hole; a level per layer, and noise on top."""
    rng = np.random.default_rng(seed)
    spots = rng.uniform(0, 200, (holes, 2))
    tops = np.arange(0.0, 20.0, step)
    lines = [np.array([[x, y, -t], [x, y, -t - 2.0]]) for x, y in spots for t in tops]
    support = kriging.Support.from_lines(lines)
    group = np.repeat(np.arange(holes), len(tops))
    number = strata.number(support.centre)
    value = np.asarray(levels)[number] + 0.3 * rng.normal(size=len(lines))
    keep = np.arange(len(lines)) if cut is None else np.flatnonzero(number != cut)
    limit = np.quantile(value, censored) if censored else -np.inf
    hidden = value < limit
    data = kriging.Data(
        support=support,
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, limit, np.nan),
        variance=np.full(len(value), 0.01),
        group=group,
        strata=strata,
    )
    return data.take(keep)


@pytest.fixture(scope="module")
def apart():
    """Two layers a hundred times apart."""
    return build(TWO, [-4.0, -6.0])


def fit(data, **options):
    """A fit with a fixed seed."""
    return kriging.fit(data, rng=np.random.default_rng(1), **options)


def test_a_field_does_not_cross(apart):
    """Just above and below the contact K is a hundred times apart; without layers it blends."""
    places = np.array([[100.0, 100.0, -9.9], [100.0, 100.0, -10.1]])
    found = fit(apart).predict(places).mean
    blended = fit(replace(apart, strata=None)).predict(places).mean
    assert found[0] - found[1] == pytest.approx(2.0, abs=0.3)
    assert blended[0] - blended[1] < 0.3


def test_layers_are_kriged_each_on_its_own(apart):
    """With free levels the answer is that of ordinary kriging within each layer, to 1e-6."""
    mean = Layered(Constant(), TWO, level_sd=1e3)
    both = Member(apart, TRUE, mean, np.asarray(apart.value)[:, None])
    both.prepare()
    cells = np.random.default_rng(2).uniform([0, 0, -20], [200, 200, 0], (50, 3))
    number = TWO.number(cells)
    for k in (0, 1):
        rows = np.flatnonzero(TWO.number(apart.support.centre) == k)
        alone = kriging.krige(replace(apart.take(rows), strata=layered(-1e6)), TRUE)
        here = cells[number == k]
        means, variance = both.block(here)
        peer = alone.predict(here)
        np.testing.assert_allclose(means[:, 0], peer.mean, atol=1e-5)
        np.testing.assert_allclose(np.sqrt(variance), peer.sd, rtol=1e-5)


def test_one_layer_is_no_layers(apart):
    """With one layer and a free level the field is the plain one."""
    cells = np.random.default_rng(3).uniform([0, 0, -20], [200, 200, 0], (40, 3))
    one = kriging.krige(replace(apart, strata=layered()), TRUE).predict(cells)
    plain = kriging.krige(replace(apart, strata=None), TRUE).predict(cells)
    # four Gauss points for an interval instead of two or one
    np.testing.assert_allclose(one.mean, plain.mean, atol=0.02)


def test_a_crossing_interval_is_split():
    """It covaries with each layer by its share, and its own variance adds the parts' squares."""
    lines = [np.array([[0.0, 0.0, -9.0], [0.0, 0.0, -11.0]])]
    lines += [np.array([[5.0, 0.0, z], [5.0, 0.0, z - 0.5]]) for z in (-9.25, -10.25)]
    data = kriging.Data(support=kriging.Support.from_lines(lines), value=np.zeros(3), strata=TWO)
    system = System.build(Layout.of(data, mean_of(TRUE, data), TRUE), TRUE)
    np.testing.assert_allclose(system.layout.shares[0], [0.5, 0.5], atol=1e-12)
    assert system.correlation[1, 2] < 1e-300
    half = system.layout.covariance.within(np.array([1.0 / 6.0]))[0][0]
    assert system.correlation[0, 0] == pytest.approx(0.5 * half, rel=1e-9)
    upper = [np.array([[0.0, 0.0, -9.0], [0.0, 0.0, -10.0]]), lines[1]]
    alone = kriging.Data(support=kriging.Support.from_lines(upper), value=np.zeros(2))
    part = System.build(Layout.of(alone, mean_of(TRUE, alone), TRUE), TRUE)
    assert system.correlation[0, 1] == pytest.approx(
        0.5 * part.correlation[0, 1], rel=0.005
    )  # nodes differ


@pytest.mark.parametrize("kind", ["constant", "quadratic"])
def test_gradient_is_the_derivative_with_layers(kind):
    """With intervals that cross a contact the analytic gradient equals central differences."""
    data = build(layered(-4.7, -11.3), [-4.0, -6.0, -5.0], holes=6)
    like = replace(TRUE, mean=kind)
    layout = Layout.of(data, mean_of(like, data), like)
    assert ((layout.shares > 0).sum(1) > 1).any()
    belief = Belief.of(centred(kriging.Prior(azimuth_deg=50.0), data))
    values, vector, step = np.asarray(data.value)[:, None], to_vector(like), 1e-5
    slope = objective(vector, layout, values, belief, like)[1]
    numeric = [
        (
            objective(vector + shift, layout, values, belief, like)[0]
            - objective(vector - shift, layout, values, belief, like)[0]
        )
        / (2 * step)
        for shift in step * np.eye(6)
    ]
    np.testing.assert_allclose(slope, numeric, atol=1e-5)


def test_a_layer_without_data_is_uncertain():
    """Its level may be any that layers have: the sd is larger than that between layers."""
    data = build(layered(-10.0, -16.0), [-4.0, -6.0, 0.0], cut=2)
    model = fit(data)
    found = model.predict(np.array([[100.0, 100.0, -5.0], [100.0, 100.0, -18.0]]))
    assert -6.0 < found.mean[1] < -4.0
    assert found.sd[0] < 0.4
    assert found.sd[1] > model.prior.stratum_sd


def test_leaving_out_in_closed_form_holds_with_layers(apart):
    """Block cross-validation equals kriging each hole from the others to 1e-9."""
    model = kriging.krige(apart, TRUE)
    means, sd = left_out(model.members[0])
    rest = kriging.krige(apart.take(np.flatnonzero(apart.group != 0)), TRUE)
    rows = np.flatnonzero(apart.group == 0)
    mean, variance = rest.members[0].at(apart.support.take(rows))
    np.testing.assert_allclose(means[rows], mean, atol=1e-9)
    np.testing.assert_allclose(sd[rows] ** 2, variance + TRUE.nugget + 0.01, atol=1e-9)


def test_realisations_break_at_the_contact(apart):
    """Simulated fields have kriging's mean and sd, and no correlation across the contact."""
    model = kriging.krige(apart.take(np.arange(0, len(apart), 9)), TRUE)
    places = np.array([[30.0, 170.0, -9.8], [30.0, 170.0, -10.2], [30.0, 170.0, -10.6]])
    drawn = model.simulate(places, realisations=2000, rng=np.random.default_rng(4))
    expected = model.predict(places)
    np.testing.assert_allclose(drawn.mean(0), expected.mean, atol=4 * expected.sd.max() / 2000**0.5)
    np.testing.assert_allclose(drawn.std(0), expected.sd, rtol=0.08)
    across, within = np.corrcoef(drawn.T)[[0, 1], [1, 2]]
    assert within > 0.8
    assert abs(across) < 0.25  # levels share a little of what is not known


def test_everything_can_be_asked_of_a_layered_model():
    """Non-detects, exceedance, validation and next tests work; stored and read it stays itself."""
    data = build(TWO, [1.5, -0.5], censored=0.3)
    model = fit(data, mean="quadratic")
    cells = np.random.default_rng(6).uniform([0, 0, -20], [200, 200, 0], (60, 3))
    chance = model.exceedance(cells, 0.5)
    sand = TWO.number(cells) == 0
    assert chance[sand].min() > 0.5 > chance[~sand].max()
    assert 0.6 < kriging.cross_validate(model).coverage_80 < 0.95
    candidates = kriging.Support.from_points(cells[:20])
    batch = kriging.next_tests(model, candidates, cells, 0.5, size=2)
    assert (batch.gain >= 0.0).all()
    again = kriging.from_json(kriging.to_json(model), data)
    np.testing.assert_array_equal(again.predict(cells).mean, model.predict(cells).mean)


def test_a_model_is_not_read_back_with_other_layers(apart):
    """The layers belong to what was fitted."""
    text = kriging.to_json(fit(apart))
    for other in (None, layered(-10.5)):
        with pytest.raises(DataError, match="other data"):
            kriging.from_json(text, replace(apart, strata=other))


def test_a_plume_runs_through_but_its_residual_does_not(apart):
    """A plume-shaped mean knows no layers; what it leaves is kriged within them."""
    model = fit(apart, mean="cautious")
    system = model.members[0].system
    number = TWO.number(apart.support.centre)
    assert np.abs(system.correlation[np.ix_(number == 0, number == 1)]).max() < 1e-9


@pytest.mark.parametrize("strata", [None, TWO], ids=["plain", "layered"])
def test_tests_that_overlap_are_weighed_together(apart, strata):
    """Intervals that overlap, longer than the beds are thick, may be asked for as one batch."""
    thin = replace(TRUE, length_vertical_m=0.5, nugget=1e-4)
    model = kriging.krige(replace(apart, strata=strata), thin)
    lines = [np.array([[50.0, 50.0, -z], [50.0, 50.0, -z - 3.0]]) for z in np.arange(4, 14, 0.75)]
    candidates = kriging.Support.from_lines(lines)
    cells = np.random.default_rng(7).uniform([0, 0, -20], [200, 200, 0], (20, 3))
    whole = np.zeros(len(lines), dtype=np.int64)
    found = kriging.next_tests(model, candidates, cells, None, unit=whole, noise_variance=1e-2)
    assert found.gain[0] > 0.0


def test_many_data_in_layers_submit_nearly_the_exact_answer():
    """From 800 tests up the variance is local: the mean agrees to 1e-5, the sd to a tenth.

    The sd is a little too large next to contacts, where what lies across helps to read an interval
    that crosses; elsewhere nineteen in twenty agree within a twentieth.
    """
    model = kriging.krige(build(layered(-7.3, -12.0), [-4.0, -6.0, -5.0], holes=80), TRUE)
    cells = np.random.default_rng(9).uniform([0, 0, -20], [200, 200, 0], (1500, 3))
    quick, exact = model.predict(cells), model.predict(cells, exact=True)
    np.testing.assert_allclose(quick.mean, exact.mean, atol=1e-5)
    ratio = quick.sd / exact.sd
    assert ratio.min() > 0.98
    assert ratio.max() < 1.1
    assert np.quantile(ratio, 0.95) < 1.05
