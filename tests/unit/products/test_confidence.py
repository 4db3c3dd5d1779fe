"""Lines of confidence: closed forms, nesting, and open ends."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from geoprofile.products.maps.confidence import closing_place, confident_chances, open_border_m


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9])
def test_fields_that_differ_by_one_number(confidence):
    """Then the whole plume lies where the chance is at least one minus the confidence."""
    rng = np.random.default_rng(1)
    mean = np.linspace(-3, 3, 2001)
    hits = mean + rng.normal(size=(4000, 1)) > 0
    outer, inner = confident_chances(ndtr(mean), hits, np.ones(2001), confidence, specks=0.0)
    assert outer == pytest.approx(1 - confidence, abs=0.02)
    assert inner == pytest.approx(confidence, abs=0.02)


@given(st.integers(0, 2**31), st.floats(0.5, 0.99), st.floats(0.0, 0.1))
def test_the_promise_is_kept_by_the_simulated_fields(seed, confidence, specks):
    """In that share of any fields the plume lies in the outer set and holds the inner one."""
    rng = np.random.default_rng(seed)
    chance, area = rng.uniform(size=40), rng.uniform(1, 2, 40)
    hits = rng.uniform(size=(30, 40)) < chance
    outer, inner = confident_chances(chance, hits, area, confidence, specks=specks)
    lost = (hits & (chance < outer)) @ area
    feigned = (~hits & (chance > inner)) @ area
    assert np.mean(lost <= specks * (hits @ area) + 1e-9) >= confidence - 1e-9
    assert np.mean(feigned <= specks * area[chance > inner].sum() + 1e-9) >= confidence - 1e-9


def test_lines_part_as_the_confidence_rises():
    """More confidence: a wider outer and a narrower inner line."""
    rng = np.random.default_rng(2)
    chance = rng.uniform(size=200)
    hits = rng.uniform(size=(100, 200)) < chance
    outer, inner = zip(
        *(confident_chances(chance, hits, np.ones(200), c) for c in (0.5, 0.7, 0.9)), strict=True
    )
    assert list(outer) == sorted(outer, reverse=True)
    assert list(inner) == sorted(inner)


def test_a_line_that_ends_at_the_map_is_open():
    """The open length is that along the border; the place to close it is far from holes."""
    domain = shapely.MultiPolygon([shapely.box(0, 0, 100, 50)])
    closed = shapely.MultiPolygon([shapely.box(20, 10, 60, 40)])
    ended = shapely.MultiPolygon([shapely.box(20, 10, 100, 40)])
    holes = np.array([[90.0, 12.0], [30.0, 20.0]])
    assert open_border_m(closed, domain) == 0.0
    assert open_border_m(ended, domain) == pytest.approx(30.0, abs=0.01)
    assert closing_place(closed, domain, holes) is None
    np.testing.assert_allclose(closing_place(ended, domain, holes), [100.0, 40.0], atol=0.2)
