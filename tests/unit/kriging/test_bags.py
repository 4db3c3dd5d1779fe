"""Shapes doubted by halves of the boreholes: laws of the halves, and what the pool promises."""

from dataclasses import replace

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.design.predictive import noise_of_tests
from geoprofile.kriging.design.predictive import predict as predict_tests
from geoprofile.kriging.fit.bags import halves_of
from geoprofile.kriging.fit.plain import level_of_all, sure_gain
from geoprofile.kriging.predict.mixture import moments, quantile
from geoprofile.kriging.predict.predictor import PlumeMember
from geoprofile.kriging.predict.statistics import assumed_of, chance_above


def crossing(seed=3, holes=12):
    """A plume along easting in holes that all stand upstream of 120 m; a reporting limit of 1."""
    rng = np.random.default_rng(seed)
    lines, value, group = [], [], []
    for hole in range(holes):
        x, y = rng.uniform(0, 120), rng.normal(0, 20)
        for top in -np.arange(2.0, 20.0, 4.0):
            deep = top - 1.0
            c = 800 * np.exp(-(y**2) / 300 - (deep + 9) ** 2 / 12 - x / 200) + 0.02
            value.append(np.log10(c) + 0.1 * rng.normal())
            lines.append(np.array([[x, y, top], [x, y, top - 2.0]]))
            group.append(hole)
    value = np.array(value)
    hidden = value < 0.0
    return kriging.Data(
        support=kriging.Support.from_lines(lines),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, 0.0, np.nan),
        group=np.array(group),
    )


@pytest.fixture(scope="module")
def model():
    """The stack of that plume."""
    prior = kriging.Prior(azimuth_deg=90.0)
    return kriging.fit(crossing(), rng=np.random.default_rng(0), prior=prior, mean="stack")


@pytest.mark.parametrize("holes", [4, 5, 9, 12])
def test_halves_make_up_all_and_leave_each_hole_out_equally_often(holes):
    """Two halves that follow each other share no hole and lack none; both have detections."""
    data = crossing(holes=holes)
    group = np.asarray(data.group)
    halves = halves_of(data, np.random.default_rng(1))
    assert halves
    for one, other in zip(halves[::2], halves[1::2], strict=True):
        assert not set(group[one]) & set(group[other])
        np.testing.assert_array_equal(np.sort(np.append(one, other)), np.arange(len(data)))
        assert not data.censored[one].all()
        assert not data.censored[other].all()


def test_no_halves_where_one_hole_has_all_detections():
    """Half of such a site has nothing to fit a shape to."""
    data = crossing()
    rows = np.flatnonzero(np.asarray(data.group) == 0)
    limits = np.full(len(data), 0.0)
    value = np.full(len(data), np.nan)
    value[rows[:2]] = 1.0
    upper = np.where(np.isnan(value), limits, np.nan)
    lonely = kriging.Data(support=data.support, value=value, upper=upper, group=data.group)
    assert halves_of(lonely, np.random.default_rng(1)) == []
    found = kriging.fit(lonely, rng=np.random.default_rng(0), mean="stack")
    assert any("one borehole only" in words for words in found.warnings)


def test_every_shape_honours_the_data(model):
    """At detected tests all shapes predict alike, to the noise of a test."""
    seen = np.flatnonzero(~model.data.censored)
    for weight, member in model.used:
        if weight and isinstance(member, PlumeMember):
            means, _ = member.at(model.data.support.take(seen))
            noise = np.sqrt(member.parameters.nugget)
            assert np.median(means.std(1)) < 0.1 + noise


def test_shapes_part_where_no_hole_stands(model):
    """Doubt about the shape grows away from the holes: downstream it exceeds that among them."""
    among = np.column_stack([np.linspace(10, 110, 20), np.zeros(20), np.full(20, -9.0)])
    beyond = among + np.array([250.0, 0.0, 0.0])
    assert model.assumed(beyond).mean() > model.assumed(among).mean()
    assert np.all((model.assumed(beyond) >= 0) & (model.assumed(beyond) <= 1))


@pytest.mark.parametrize("length_m", [0.01, 40.0])
def test_far_away_a_long_test_is_doubted_as_much_as_a_short_one(model, length_m):
    """Data say nothing of either: all of the doubt, though a mean over 40 m varies less."""
    place = np.array([5000.0, 9000.0, -9.0])
    line = np.array([place, place - [0.0, 0.0, length_m]])
    tests = kriging.Support.from_lines([line])
    plumes = np.array([isinstance(m, PlumeMember) for m in model.members])
    weights = np.where(plumes, model.weights, 0.0)  # others also doubt their mean
    model = replace(model, weights=weights / weights.sum())
    found = predict_tests(model, tests, [0.1, 0.9])
    said = [(w, *m.at(tests)) for w, m in model.used]
    mean = sum(w * m.mean() for w, m, _ in said)
    less, spare = 1.0 - model.doubt, noise_of_tests(model)
    assert less < 0.98
    wide = [
        (w, mean + (m - mean) / less, np.sqrt(v / less**2 + member.parameters.nugget + spare))
        for (w, m, v), (_, member) in zip(said, model.used, strict=True)
    ]
    for column, chance in enumerate([0.1, 0.9]):
        assert found[0, column] == pytest.approx(quantile(wide, chance)[0], abs=1e-6)


def test_doubt_about_a_side_splits_as_an_indicator_does():
    """Shapes that each are sure hold all the doubt; shapes that agree hold none of it."""
    sd = np.full(2, 0.1)
    sure = np.tile([[-5.0, 5.0]], (2, 1))
    alike = np.tile([[0.02, 0.02]], (2, 1))
    decided = np.tile([[-5.0, -4.0]], (2, 1))
    for means, share in ((sure, 1.0), (alike, 0.0), (decided, 0.0)):
        (found,) = assumed_of([(1.0, means, sd)], threshold=0.0)
        np.testing.assert_allclose(found, share, atol=1e-6)


def test_scores_of_the_halves_come_back_with_the_model(model):
    """What was left out when it was fitted is stored, and predictions are the same bits."""
    back = kriging.from_json(kriging.to_json(model), model.data)
    np.testing.assert_array_equal(
        kriging.cross_validate(back).log_density, kriging.cross_validate(model).log_density
    )
    assert kriging.cross_validate(back).coverage_80 == kriging.cross_validate(model).coverage_80
    spot = np.array([[60.0, 3.0, -9.0]])
    np.testing.assert_array_equal(back.predict(spot).sd, model.predict(spot).sd)


def test_level_of_all_without_limits_is_the_mean():
    """With values only: the mean, and the spread with a weak prior."""
    data = crossing()
    seen = data.take(np.flatnonzero(~data.censored))
    mean, sd = level_of_all(seen)
    value = np.asarray(seen.value)
    assert mean == pytest.approx(value.mean(), abs=1e-6)
    square = ((value - value.mean()) ** 2).sum()
    assert sd == pytest.approx(np.sqrt((square + 1.0) / (len(value) + 2.0)), rel=1e-3)


def test_level_of_all_sees_below_a_limit():
    """Half of a normal hidden below its middle: mean and spread come back."""
    value = np.random.default_rng(8).normal(0.3, 0.8, 4000)
    hidden = value < 0.3
    points = np.random.default_rng(9).uniform(size=(4000, 3))
    data = kriging.Data(
        support=kriging.Support.from_points(points),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, 0.3, np.nan),
    )
    mean, sd = level_of_all(data)
    assert mean == pytest.approx(0.3, abs=0.05)
    assert sd == pytest.approx(0.8, abs=0.05)


def test_a_gain_that_one_borehole_makes_is_not_sure():
    """The same total gain: sure when all boreholes share it, not when one has it all."""
    group = np.repeat(np.arange(8), 5)
    assert sure_gain(np.full(40, 0.2), group) == pytest.approx(0.2)
    assert sure_gain(np.where(group == 0, 1.6, 0.0), group) <= 1e-12


def test_a_clean_hole_far_outside_takes_no_map():
    """By hand: 8 boreholes of 3 tests. One clean hole gains 3.9 a test, one 1.0, the others lose .2
    or gain nothing: mean .51, standard error .52; without the best hole the others gain .025.
    """
    group = np.repeat(np.arange(8), 3)
    gain = np.repeat([-0.1, 0.0, 0.0, -0.3, -0.3, 1.0, -0.125, 3.9], 3)
    assert gain.mean() == pytest.approx(0.509, abs=1e-3)
    assert 0.0 < sure_gain(gain, group) <= gain.mean() - 0.25 + 1e-12
    assert sure_gain(np.where(group == 5, -1.0, gain), group) <= 0.0


def test_noise_has_no_structure(model):
    """Results shuffled between all places are predicted no better than by one level."""
    assert kriging.cross_validate(model).structure
    data = crossing(seed=5)
    order = np.random.default_rng(2).permutation(len(data))
    columns = {name: np.asarray(getattr(data, name))[order] for name in ("value", "upper")}
    noise = kriging.Data(support=data.support, group=data.group, **columns)
    found = kriging.fit(noise, rng=np.random.default_rng(0), mean="stack")
    assert not kriging.cross_validate(found).structure


def test_fields_drawn_exceed_as_often_as_predictions_say(model):
    """The doubt about the model is in both: mean share of 400 draws within four errors."""
    places = np.array([[x, y, -9.0] for x in (20.0, 90.0, 200.0) for y in (0.0, 25.0, 60.0)])
    assert model.doubt > 0
    drawn = model.simulate(places, realisations=400, rng=np.random.default_rng(7))
    share, chance = (drawn > 0.5).mean(0), model.exceedance(places, 0.5)
    # draws share few shapes, so that they count for about a quarter of their number
    assert np.all(np.abs(share - chance) < 4 * np.sqrt(0.25 / 100))
    believed = model.believed(places)
    far = moments(model.parts(places))[1] / moments(believed)[1]
    assert far[-1] > far[0] >= 1.0


def test_a_chance_without_the_doubt_is_what_the_members_believe(model):
    """Over many blocks it is that of `believed`, farther from one half than with the doubt."""
    rng = np.random.default_rng(5)
    places = rng.uniform([0, -60, -20], [250, 60, 0], (700, 3))
    found = model.exceedance(places, 0.5, doubted=False)
    (meant,) = chance_above(model.believed(places), threshold=0.5, high=model.high_values)
    np.testing.assert_allclose(found, meant, atol=2e-3)
    doubted = model.exceedance(places, 0.5)
    unsure = np.abs(found - 0.5) < np.abs(doubted - 0.5) - 1e-3
    assert unsure.mean() < 0.05


def test_advice_forecasts_without_the_doubt(model):
    """What is on the wrong side, of which a test decides a share, is what members believe."""
    places = np.random.default_rng(6).uniform([0, -60, -20], [250, 60, 0], (300, 3))
    test = kriging.Support.from_points([[100.0, 20.0, -9.0]])
    batch = kriging.next_tests(model, test, places, 0.5, volume=2.0)
    chance = model.exceedance(places, 0.5, doubted=False)
    wrong = 2.0 * np.minimum(chance, 1.0 - chance).sum()
    assert batch.gain[0] / batch.share[0] == pytest.approx(wrong, rel=1e-2)
    doubted = model.exceedance(places, 0.5)
    assert wrong < 2.0 * np.minimum(doubted, 1.0 - doubted).sum()
