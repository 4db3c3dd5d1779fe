"""Laws of logs cut into units, and of the surfaces between units."""

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.geometry.linear_surface import Cones
from geoprofile.kriging.covariance.strata import Strata
from geoprofile.products.units.correlation import Row, Units

NAMES = ("fill", "sand", "clay", "rock", "coal")  # coal belongs to no unit
UNITS = Units.of(["fill", "sand", "clay", "rock"])
PIECES = st.lists(st.tuples(st.sampled_from(NAMES), st.integers(1, 50)), min_size=1, max_size=12)


def log_of(pieces):
    """Rows one below the other, thicknesses in decimetres."""
    ends = np.cumsum([0, *(size for _, size in pieces)]) / 10.0
    return [
        Row(float(top), float(bottom), name)
        for (name, _), (top, bottom) in zip(pieces, pairwise(ends), strict=True)
    ]


def agreement(log, cut):
    """Metres of the log that a cut calls by their name."""
    return sum(
        max(0.0, min(row.bottom_m, unit.bottom_m) - max(row.top_m, unit.top_m))
        for row in log
        for unit in cut
        if UNITS.number.get(row.name) == unit.number
    )


@given(PIECES)
def test_a_cut_covers_the_log_in_order(pieces):
    """Units follow each other without gaps, ever deeper in the order, from top to bottom."""
    log = log_of(pieces)
    cut = UNITS.met(log)
    if all(name == "coal" for name, _ in pieces):
        assert cut == []
        return
    assert (cut[0].top_m, cut[-1].bottom_m) == (log[0].top_m, log[-1].bottom_m)
    for above, below in pairwise(cut):
        assert above.bottom_m == below.top_m
        assert above.number < below.number
    met = {UNITS.number[name] for name, _ in pieces if name != "coal"}
    assert {unit.number for unit in cut} <= met


@given(PIECES, st.lists(st.integers(0, 12), min_size=3, max_size=3))
def test_no_other_cut_agrees_with_more(pieces, places):
    """Any other three boundaries between rows agree with as many metres at most."""
    log = log_of(pieces)
    own = agreement(log, UNITS.met(log))
    bounds = [0, *sorted(min(place, len(log)) for place in places), len(log)]
    other = sum(
        row.bottom_m - row.top_m
        for number, (first, last) in enumerate(pairwise(bounds))
        for row in log[first:last]
        if UNITS.number.get(row.name) == number
    )
    assert own >= other - 1e-9


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.integers(1, 4), st.floats(-500.0, 500.0))
def test_surfaces_move_with_the_ground_and_never_cross(seed, contacts, shift):
    """Lifting all points lifts all tops; a place keeps its layer; tops never rise downwards."""
    rng = np.random.default_rng(seed)
    xy = rng.uniform(0, 100, (6, 2))
    levels = -np.cumsum(rng.uniform(0.0, 5.0, (contacts + 1, 6)), axis=0)
    places = np.column_stack([rng.uniform(-50, 150, (30, 2)), rng.uniform(-30, 5, 30)])

    def strata(up):
        surfaces = [Cones.through(xy, level + up) for level in levels]
        return Strata(surfaces[0], tuple(surfaces[1:]))

    here, there = strata(0.0), strata(shift)
    tops = here.tops(places[:, :2])
    assert (np.diff(tops, axis=1) <= 0.0).all()
    np.testing.assert_allclose(there.tops(places[:, :2]), tops + shift, atol=1e-6)
    clear = np.abs(tops - places[:, 2:]).min(1) > 1e-6
    lifted = places + np.array([0.0, 0.0, shift])
    assert (here.number(places) == there.number(lifted))[clear].all()
