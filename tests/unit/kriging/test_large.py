"""Many data: fitted and drawn by blocks of neighbours, solved for once."""

import json

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.fit import fitting, large, stored
from geoprofile.kriging.fit.validation import left_out
from geoprofile.kriging.solve import system

PRIOR = kriging.Prior(azimuth_deg=55.0)


@pytest.fixture
def few_are_many(monkeypatch):
    """Everything that is done for thousands of data, for tens."""
    for room in (fitting, large, stored):
        monkeypatch.setattr(room, "MOST_WHOLE", 50)
    monkeypatch.setattr(large, "BLOCK", 40)
    monkeypatch.setattr(large, "HALO", 20)
    monkeypatch.setattr(system, "MOST_KEPT", 50)


def test_blocks_find_what_the_whole_finds(detected, cells, few_are_many, monkeypatch):
    """96 values in blocks of 40: the map differs by a fraction of its own standard deviation."""
    model = kriging.fit(detected, rng=np.random.default_rng(1), prior=PRIOR)
    monkeypatch.undo()
    whole = kriging.fit(detected, rng=np.random.default_rng(1), prior=PRIOR)
    ours, theirs = model.predict(cells), whole.predict(cells)
    assert np.abs((ours.mean - theirs.mean) / theirs.sd).mean() < 0.15
    assert np.median(ours.sd / theirs.sd) == pytest.approx(1.0, abs=0.15)


def test_non_detects_are_drawn_below_their_limits(censored, few_are_many):
    """Every draw lies below the limit, and values stay as they were measured."""
    model = kriging.fit(censored, rng=np.random.default_rng(1), prior=PRIOR)
    values, hidden = model.members[0].values, censored.censored
    assert (values[hidden] <= censored.upper[hidden, None]).all()
    np.testing.assert_array_equal(values[~hidden, 0], censored.value[~hidden])


def test_draws_beside_neighbours_have_the_moments_of_draws_among_all(censored, truth):
    """Blocks with a halo give each non-detect the mean it has given all the data."""
    model = kriging.fit(censored, rng=np.random.default_rng(1), prior=PRIOR)
    member = model.members[0]
    rng = np.random.default_rng(2)
    far = large.neighbourhoods(censored, member.parameters)
    assert len(far) == 1  # 96 data are one block
    again = member.values.copy()
    own = far[0].drawn(again, member.mean, member.parameters, sweeps=20, rng=rng)
    hidden = censored.censored[far[0].rows[: far[0].own]]
    before = again[far[0].rows[: far[0].own]]
    apart = own[hidden].mean(1) - before[hidden].mean(1)
    spread = before[hidden].std(1) * np.sqrt(2 / before.shape[1])
    assert np.sqrt(np.mean((apart / spread) ** 2)) < 1.5  # 1 but for sampling


def test_a_hole_left_out_is_predicted_from_around_it(detected, truth, few_are_many, monkeypatch):
    """From all other data the closed form comes out; from half of them, to 0.3 sd."""
    member = kriging.krige(detected, truth).members[0]
    exact, exact_sd = left_out(member)
    monkeypatch.setattr(large, "NEAR", 96)
    means, sd = large.left_out_nearby(member)
    np.testing.assert_allclose(means, exact, atol=1e-9)
    np.testing.assert_allclose(sd, exact_sd, rtol=1e-9)
    monkeypatch.setattr(large, "NEAR", 40)
    means, sd = large.left_out_nearby(member)
    assert np.abs((means - exact)[:, 0] / exact_sd).max() < 0.3
    np.testing.assert_allclose(sd, exact_sd, rtol=0.05)


def test_too_many_data_for_a_plumes_shape(detected, few_are_many):
    """A stack becomes a parabola across flow, and the model says so."""
    model = kriging.fit(detected, rng=np.random.default_rng(1), prior=PRIOR, mean="stack")
    assert model.mean == "quadratic"
    assert any("the mean is quadratic" in words for words in model.warnings)


def test_solved_once(censored, cells, few_are_many):
    """Read back, the model predicts the same bits without solving again."""
    model = kriging.fit(censored, rng=np.random.default_rng(1), prior=PRIOR)
    text = kriging.to_json(model)
    assert json.loads(text)["members"][0]["solution"]
    back = kriging.from_json(text, censored)
    found = back.members[0]
    assert "lower" not in found.system.__dict__
    np.testing.assert_array_equal(found.duals, model.members[0].duals)
    np.testing.assert_array_equal(back.predict(cells).mean, model.predict(cells).mean)
