"""Walkers: shapes of a plume from their posterior."""

import numpy as np
import pytest

from geoprofile import geostat
from geoprofile.geostat.plume import SHAPE
from geoprofile.geostat.plume_fit import draw_member
from geoprofile.geostat.walkers import walked

ROWS = np.array([0.0, 60.0, 100.0, 140.0])  # [m] along the flow, east


def gap_data():
    """Rows of holes across a plume whose source stands at 20 m, where no hole is."""
    rng = np.random.default_rng(3)
    lines, value, group = [], [], []
    for hole, (x, y) in enumerate((x, y) for x in ROWS for y in (-24.0, -8.0, 8.0, 24.0)):
        for top in range(0, -20, -4):
            line = np.array([[x, y, top], [x, y, top - 1.5]])
            along, middle = x - 20.0, line[:, 2].mean() + 10
            spread_v, spread_w = 30.0 + 1.2 * max(along, 0), 3.0 + 0.06 * max(along, 0)
            fall = np.log10(30.0 / spread_v * 3.0 / spread_w) / 2
            mean = 3 + fall - (y**2 / spread_v + middle**2 / spread_w) / 2 / np.log(10)
            value.append((mean if along > 0 else -5.0) + 0.05 * rng.normal())
            lines.append(line)
            group.append(hole)
    value = np.array(value)
    hidden = value < -0.3
    return geostat.Data(
        support=geostat.Support.from_lines(lines),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, -0.3, np.nan),
        variance=np.full(len(value), 0.05**2),
        group=np.array(group),
    )


@pytest.fixture(scope="module")
def member():
    """The member of a single plume, walked when it was fitted."""
    model = geostat.fit(
        gap_data(),
        rng=np.random.default_rng(0),
        prior=geostat.Prior(azimuth_deg=90.0),
        mean="plume",
    )
    return model.members[0]


def place_of_source(member):
    """Easting of the source in every draw [m]."""
    prior = member.mean.prior
    natural = prior.centre + prior.sd * member.vectors
    seat = natural[:, [SHAPE.index(n) for n in ("along", "across", "up")]]
    return (prior.origin + seat @ prior.frame)[:, 0]


def test_the_source_may_lie_anywhere_between_two_rows(member):
    """Draws spread over the gap from 0 to 60 m, the truth among them, and not beyond it."""
    east = place_of_source(member)
    assert east.std() > 4.0
    assert east.min() < 25.0
    assert east.min() > -20.0
    assert east.max() < 75.0


def test_non_detects_stay_below_their_limit(member):
    """And what was detected is not changed."""
    data = member.data
    assert (member.values[data.censored] <= np.asarray(data.upper)[data.censored, None]).all()
    seen = ~data.censored
    assert (member.values[seen] == np.asarray(data.value)[seen, None]).all()


def test_shapes_explain_the_data(member):
    """No draw leaves a detected value further off than four times its own error allows."""
    layout = member.system.layout
    given = member.mean.prior.averaged(
        member.vectors, layout.points + layout.origin, layout.weights
    )
    white = (member.values.T - given) @ member.system.inverse_lower.T
    count = white.shape[1]
    assert ((white**2).sum(1) < count + 4 * np.sqrt(2 * count)).all()


def test_the_same_seed_gives_the_same_walk(member):
    """Twice the same draws; another seed gives others."""
    begun = draw_member(
        member.data, member.mean, member.parameters, member.values, np.random.default_rng(1)
    )
    one, same, other = (walked(begun, np.random.default_rng(seed)) for seed in (5, 5, 6))
    np.testing.assert_array_equal(one.vectors, same.vectors)
    assert not np.array_equal(one.vectors, other.vectors)
