"""Fitting, non-detects, cross-validation and refusals."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import truncnorm

from geoprofile import kriging
from geoprofile.errors import DataError, UsageError
from geoprofile.kriging.covariance.anisotropy_frame import centred
from geoprofile.kriging.fit.censoring import sweep
from geoprofile.kriging.fit.estimation import Belief, objective, to_vector
from geoprofile.kriging.fit.validation import left_out
from geoprofile.kriging.predict.means import mean_of
from geoprofile.kriging.solve.system import Layout, System


@pytest.mark.parametrize("kind", ["constant", "quadratic"])
def test_gradient_is_the_derivative(detected, truth, kind):
    """The analytic gradient equals central differences in all six parameters."""
    like = replace(truth, mean=kind, dip_deg=5.0)
    layout = Layout.of(detected, mean_of(like, detected), like)
    belief = Belief.of(centred(kriging.Prior(azimuth_deg=50.0), detected))
    rng = np.random.default_rng(0)
    values = detected.value[:, None] + 0.1 * rng.normal(size=(len(detected), 2))
    vector, step = to_vector(like), 1e-5
    slope = objective(vector, layout, values, belief, like)[1]
    numeric = [
        (
            objective(vector + shift, layout, values, belief, like)[0]
            - objective(vector - shift, layout, values, belief, like)[0]
        )
        / (2 * step)
        for shift in step * np.eye(6)
    ]
    np.testing.assert_allclose(slope, numeric, atol=1e-6)


def test_gradient_counts_overlapping_intervals(truth):
    """The same with intervals that lie within or across others of their hole."""
    spans = ((0.0, 6.0), (1.0, 3.0), (5.0, 8.0), (1.0, 3.0))
    lines = [
        np.array([x, 3.0 * x, 0.0]) + np.outer(span, [0.1, 0.0, -1.0])
        for x in (0.0, 20.0, 45.0)
        for span in spans
    ]
    support = kriging.Support.from_lines(lines)
    data = kriging.Data(support=support, value=np.arange(12.0) % 5)
    layout = Layout.of(data, mean_of(truth, data), truth)
    assert layout.overlaps.first.size == 3 * 4  # all but the third with the second and fourth
    belief = Belief.of(centred(kriging.Prior(azimuth_deg=50.0), data))
    vector, step = to_vector(truth), 1e-5 * np.eye(6)
    values = np.asarray(data.value)[:, None]
    up, down = (
        [objective(vector + sign * one, layout, values, belief, truth)[0] for one in step]
        for sign in (1, -1)
    )
    slope = objective(vector, layout, values, belief, truth)[1]
    np.testing.assert_allclose(slope, np.subtract(up, down) / 2e-5, atol=1e-6)


def test_leaving_out_in_closed_form_equals_solving_anew(detected, truth):
    """Block cross-validation equals kriging each hole from the others to 1e-10."""
    kind = replace(truth, mean="constant")
    model = kriging.krige(detected, kind)
    means, sd = left_out(model.members[0])
    for hole in range(3):
        rest = kriging.krige(detected.take(np.flatnonzero(detected.group != hole)), kind)
        rows = np.flatnonzero(detected.group == hole)
        mean, variance = rest.members[0].at(detected.support.take(rows))
        noisy = variance + truth.nugget + detected.variance[rows]
        np.testing.assert_allclose(means[rows], mean, atol=1e-10)
        np.testing.assert_allclose(sd[rows] ** 2, noisy, atol=1e-10)


def test_non_detects_are_drawn_from_the_conditional_normal():
    """One non-detect among known values: its draws have the truncated normal's moments."""
    places = np.array([[0.0, 0, 0], [10.0, 0, 0], [25.0, 0, 0]])
    data = kriging.Data(
        support=kriging.Support.from_points(places),
        value=np.array([1.0, np.nan, 0.5]),
        upper=np.array([np.nan, 0.2, np.nan]),
    )
    parameters = kriging.Parameters(
        sill=0.5, nugget=0.05, length_along_m=20.0, length_across_m=20.0, length_vertical_m=2.0
    )
    system = System.build(Layout.of(data, mean_of(parameters, data), parameters), parameters)
    start = np.repeat(np.array([1.0, 0.0, 0.5])[:, None], 4000, axis=1)
    drawn = sweep(data, start, system.projection, sweeps=2, rng=np.random.default_rng(2))[1]
    p = system.projection
    sd = 1 / np.sqrt(p[1, 1])
    mean = -(p[1, 0] * 1.0 + p[1, 2] * 0.5) / p[1, 1]
    law = truncnorm(-np.inf, (0.2 - mean) / sd, mean, sd)
    assert drawn.max() <= 0.2
    assert drawn.mean() == pytest.approx(law.mean(), abs=4 * law.std() / 4000**0.5)
    assert drawn.std() == pytest.approx(law.std(), rel=0.06)  # four standard errors


def test_draws_stay_between_their_limits(censored):
    """Interval-censored data keep to both limits, however unlikely."""
    lower = np.where(censored.censored, censored.upper - 0.1, np.nan)
    data = replace(censored, lower=lower)
    model = kriging.fit(data, rng=np.random.default_rng(4))
    drawn = model.members[0].values[data.censored]
    assert (drawn <= data.upper[data.censored, None]).all()
    assert (drawn >= lower[data.censored, None]).all()


def test_cross_validation_covers(detected):
    """On data drawn from the model, intervals hold roughly what they promise."""
    model = kriging.fit(detected, rng=np.random.default_rng(1), prior=kriging.Prior(azimuth_deg=55))
    score = kriging.cross_validate(model)
    assert 0.35 < score.coverage_50 < 0.65  # one site of 96 tests in 12 holes
    assert 0.88 < score.coverage_95 <= 1.0


def test_same_seed_same_bits(censored, fitted, cells):
    """Fitting twice with the same generator gives the same predictions."""
    prior = kriging.Prior(azimuth_deg=55.0)
    again = kriging.fit(censored, rng=np.random.default_rng(1), prior=prior, mean="quadratic")
    np.testing.assert_array_equal(fitted.predict(cells).mean, again.predict(cells).mean)


def test_read_back_predicts_the_same_bits(censored, fitted, cells):
    """A stored model predicts bit for bit as before, without a fit."""
    back = kriging.from_json(kriging.to_json(fitted), censored)
    assert json.loads(kriging.to_json(fitted))["mean"] == "quadratic"
    np.testing.assert_array_equal(fitted.predict(cells).mean, back.predict(cells).mean)
    np.testing.assert_array_equal(fitted.exceedance(cells, 0.3), back.exceedance(cells, 0.3))


def test_read_back_with_other_data_is_refused(detected, fitted):
    """A stored model does not accept data it was not fitted to."""
    with pytest.raises(DataError, match="other data"):
        kriging.from_json(kriging.to_json(fitted), detected)


def test_never_detected_is_no_field():
    """All non-detects: an upper bound, not a map."""
    data = kriging.Data(
        support=kriging.Support.from_points(np.random.default_rng(0).normal(size=(9, 3))),
        value=np.full(9, np.nan),
        upper=np.zeros(9),
    )
    with pytest.raises(DataError, match="no detection"):
        kriging.fit(data, rng=np.random.default_rng(0))


def test_unknown_mean_is_answered_with_the_names():
    """A wrong name of a mean is refused."""
    data = kriging.Data(support=kriging.Support.from_points(np.eye(3)), value=np.arange(3.0))
    with pytest.raises(UsageError, match="quadratic"):
        kriging.fit(data, rng=np.random.default_rng(0), mean="cubic")


@pytest.mark.parametrize(
    "columns",
    [
        {"value": np.array([1.0, np.nan])},
        {"value": np.array([1.0, np.inf])},
        {"value": np.array([1.0, 2.0]), "variance": np.array([0.1, -0.1])},
        {
            "value": np.array([1.0, np.nan]),
            "upper": np.array([0, 1.0]),
            "lower": np.array([0, 2.0]),
        },
        {"value": np.array([1.0])},
    ],
)
def test_contradictory_data_are_refused(columns):
    """Rows without value and limit, infinite, with crossed limits or of the wrong length."""
    with pytest.raises(DataError):
        kriging.Data(support=kriging.Support.from_points(np.eye(3)[:2]), **columns)


@pytest.mark.parametrize(
    "places",
    [
        np.column_stack([np.zeros(12), np.zeros(12), np.arange(12.0)]),
        np.column_stack([np.arange(12.0), 2 * np.arange(12.0), np.zeros(12)]),
        np.zeros((12, 3)),
        np.repeat(np.random.default_rng(0).normal(size=(6, 3)), 2, axis=0),
    ],
    ids=["one borehole", "one line", "one place", "duplicates"],
)
@pytest.mark.parametrize("mean", ["constant", "quadratic"])
@pytest.mark.parametrize("flat", [False, True])
def test_degenerate_sites_submit_finite_numbers(places, mean, flat):
    """One hole, one line, one place, duplicates, constant values: finite, with a warning."""
    value = np.full(12, 0.3) if flat else np.random.default_rng(1).normal(size=12)
    data = kriging.Data(
        support=kriging.Support.from_points(places), value=value, group=np.zeros(12, int)
    )
    model = kriging.fit(data, rng=np.random.default_rng(0), mean=mean)
    found = model.predict(np.random.default_rng(2).normal(size=(20, 3)) * 50)
    assert np.isfinite(found.mean).all()
    assert np.isfinite(found.sd).all()
    assert any("borehole" in words for words in model.warnings)


def test_intervals_alike_in_a_hole_are_no_noise():
    """Seven holes, each with one level of its own: lengths reach from interval to interval, also
    where the search from the prior's centre ends in lengths of decimetres, and a hole more or less
    changes no length by more than half.
    """
    places = [(0, 0), (40, 5), (20, 40), (60, 45), (-20, 30), (25, 15), (80, 10), (25, 110)]
    tops, step = (6.0, 11.0, 16.0), np.log10(1.1)
    zones = [np.array([[x, y, -top], [x, y, -top - 2.0]]) for x, y in places for top in tops]
    lengths = []
    for holes in (7, 8):
        count = holes * len(tops)
        data = kriging.Data(
            support=kriging.Support.from_lines(zones[:count]),
            value=-5.0 - step * np.arange(count),
            variance=np.full(count, 0.1**2),
            group=np.repeat(np.arange(holes), len(tops)),
        )
        prior = kriging.Prior(azimuth_deg=90.0, azimuth_sd_deg=10.0)
        found = kriging.fit(data, rng=np.random.default_rng(1), prior=prior).parameters
        lengths.append((found.length_along_m, found.length_across_m, found.length_vertical_m))
        assert found.length_vertical_m > tops[1] - tops[0]
    np.testing.assert_allclose(*lengths, rtol=0.5)
