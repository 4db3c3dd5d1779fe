"""Where an interval lies decides which formula may be used."""

import dataclasses
import math

import numpy as np
import pytest

from geoprofile.errors import DataError
from geoprofile.hydraulics import analyse, situation, thinning
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.methods import (
    bouwer_rice,
    hvorslev,
    partial_penetration,
    steady_anisotropic,
)
from geoprofile.hydraulics.recovery import radial_modes, steady_log_ratio
from geoprofile.hydraulics.shapes import bouwer_rice_log_ratio
from geoprofile.hydraulics.tests import HydraulicTest

BASE = hvorslev.example(1e-5)
RISING = bouwer_rice.example(1e-5)


def at(**changes: object) -> HydraulicTest:
    """The example, changed."""
    return dataclasses.replace(BASE, **changes)


def test_interval_that_crosses_the_water_level_counts_only_its_wet_part() -> None:
    """Static level 1 m below the top of 3 m: 2 m are wet."""
    test = at(static_depth_m=13.0)
    assert situation.crosses_water_table(test)
    assert situation.length_in_water(test) == pytest.approx(2.0)


def test_unknown_depths_mean_the_whole_interval() -> None:
    """Without depths nothing is taken off, and Lw is unknown."""
    test = at(top_m=None, bottom_m=None)
    assert situation.length_in_water(test) == 3.0
    assert situation.below_water_m(test) is None
    assert situation.saturated_m(test) == math.inf
    assert test.where == "test example (example)"


def test_spanning_needs_upper_boundary_and_base() -> None:
    """Upper boundary alone is not the whole aquifer."""
    test = at(confined=True, aquifer_top_m=12.0)
    assert situation.touches_upper_boundary(test)
    assert not situation.spans_aquifer(test)
    assert situation.spans_aquifer(dataclasses.replace(test, aquifer_base_m=15.0))


def test_no_gap_under_the_interval_is_full_penetration() -> None:
    """A gap under one hole radius counts as none."""
    kw = {"length": 3.0, "radius": 0.05, "below_water": 8.0}
    full = bouwer_rice_log_ratio(saturated=8.0, **kw)
    assert bouwer_rice_log_ratio(saturated=8.04, **kw) == full
    assert bouwer_rice_log_ratio(saturated=8.2, **kw) != full


def test_deep_base_is_capped_at_six() -> None:
    """An unknown base is as one very far down."""
    kw = {"length": 3.0, "radius": 0.05, "below_water": 8.0}
    far = bouwer_rice_log_ratio(saturated=8.0 + 0.05 * math.exp(6.0), **kw)
    assert bouwer_rice_log_ratio(saturated=math.inf, **kw) == pytest.approx(far, rel=1e-12)


def test_interval_hardly_below_the_water_is_refused() -> None:
    """Lw not above rw has no meaning."""
    with pytest.raises(ValueError, match="one hole radius"):
        bouwer_rice_log_ratio(1.0, 0.05, below_water=0.05, saturated=9.0)


@pytest.mark.parametrize(
    ("changes", "applies", "words"),
    [
        ({"confined": True}, False, "confined"),
        ({"static_depth_m": None}, False, "unknown"),
        ({"interval_length_m": 0.0}, False, "hardly reaches"),
        ({"static_depth_m": 13.0}, True, "within the interval"),
        ({"static_depth_m": 13.0, "kind": "falling head"}, False, "only rising heads"),
        ({"static_depth_m": -5.0}, True, "far above"),
        ({}, True, "near the water table"),
    ],
)
def test_water_table_formula_says_when_it_applies(
    changes: dict[str, object], applies: bool, words: str
) -> None:
    """Every refusal and every doubt has its reason."""
    fit = bouwer_rice.applies(dataclasses.replace(RISING, **changes))
    assert fit.applies is applies
    assert words in fit.reason


def test_chosen_water_table_formula_without_a_level_is_refused() -> None:
    """A user's choice cannot be honoured without the static level."""
    with pytest.raises(DataError, match="no static level"):
        bouwer_rice.run(dataclasses.replace(RISING, static_depth_m=None))


def test_chosen_water_table_formula_in_a_sliver_of_water_is_refused() -> None:
    """An interval that ends 4 cm below the water is not tested by it."""
    with pytest.raises(DataError, match="hole radius"):
        bouwer_rice.run(dataclasses.replace(RISING, static_depth_m=14.96))


def test_pack_that_drains_widens_the_surface() -> None:
    """rc_eff^2 = (1 - n) rc^2 + n rw^2 when the level moves in the screen (Bouwer 1989)."""
    test = dataclasses.replace(RISING, static_depth_m=13.0, isolation="screen")
    packed = dataclasses.replace(test, pack_porosity=0.3, pack_radius_m=0.08)
    square = 0.7 * 0.025**2 + 0.3 * 0.08**2
    bare = dataclasses.replace(test, isolation="open hole")  # the hole itself moves: nothing drains
    ratio = bouwer_rice.run(packed).k_m_per_s / bouwer_rice.run(bare).k_m_per_s
    assert ratio == pytest.approx(square / 0.025**2, rel=1e-9)


def test_pack_of_unknown_porosity_is_never_accepted_and_spans_both() -> None:
    """No porosity told: the bounds reach from a pack that does not drain to one that does."""
    test = dataclasses.replace(RISING, static_depth_m=13.0, isolation="screen", pack_radius_m=0.08)
    found = analyse(test, [bouwer_rice.PLUGIN])
    bare = analyse(dataclasses.replace(test, isolation="open hole"), [bouwer_rice.PLUGIN])
    packed = analyse(dataclasses.replace(test, pack_porosity=0.3), [bouwer_rice.PLUGIN])
    assert found.grade == "qualified"
    assert found.best is not None
    assert bare.best is not None
    assert packed.best is not None
    assert found.best.k_low_m_per_s < bare.best.k_as_fitted_m_per_s
    assert found.best.k_high_m_per_s > packed.best.k_as_fitted_m_per_s


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"interval_length_m": 0.0}, "open end"),
        ({"static_depth_m": 13.0}, "within the interval"),
        ({"confined": True, "aquifer_top_m": 12.0}, "impermeable upper boundary"),
        ({"interval_length_m": 0.08}, "shorter than"),
    ],
)
def test_free_interval_formula_says_why_not(changes: dict[str, object], words: str) -> None:
    """The refusals and doubts of the packer formula."""
    assert words in hvorslev.applies(at(**changes)).reason


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"interval_length_m": 0.0}, "open end"),
        ({"static_depth_m": 13.0}, "within the interval"),
        ({"confined": True, "aquifer_top_m": 12.0, "aquifer_base_m": 15.0}, "radial"),
        ({"static_depth_m": None}, "unknown"),
    ],
)
def test_curve_with_storage_says_where_it_stands(changes: dict[str, object], words: str) -> None:
    """The reasons of the curve for a part of the ground."""
    assert words in partial_penetration.applies(at(**changes)).reason


def test_modes_follow_the_depths() -> None:
    """A near base and a near upper boundary raise P, a near water table lowers it."""
    free = steady_log_ratio(modes_of(at(static_depth_m=None)))
    near = steady_log_ratio(modes_of(at(static_depth_m=11.5)))
    tight = steady_log_ratio(modes_of(at(static_depth_m=None, confined=True, aquifer_top_m=11.8)))
    base = steady_log_ratio(modes_of(at(aquifer_base_m=15.2)))
    assert near < free < tight
    assert base > steady_log_ratio(modes_of(BASE))
    assert math.isnan(steady_log_ratio(radial_modes()))


def test_open_end_is_not_for_a_steady_anisotropic() -> None:
    """Constant heads need an open wall."""
    test = dataclasses.replace(steady_anisotropic.example(1e-6), interval_length_m=0.0)
    assert "open end" in steady_anisotropic.applies(test).reason


def test_closed_layer_has_no_steady_state() -> None:
    """Between a near upper boundary and a near base a constant head never settles: other methods
    serve.
    """
    test = dataclasses.replace(
        steady_anisotropic.example(1e-6), confined=True, aquifer_top_m=11.0, aquifer_base_m=16.0
    )
    assert "no steady state" in steady_anisotropic.applies(test).reason
    with pytest.raises(DataError, match="both near"):
        steady_anisotropic.run(test)


def test_thinning_keeps_the_ends_and_the_mean() -> None:
    """Means of close readings carry their count."""
    time = np.linspace(0.0, 100.0, 50_001)
    mean_time, head, count = thinning.thin(time, np.exp(-time / 30.0))
    assert time.size == count.sum()
    assert mean_time.size <= thinning.BINS + 2
    assert head == pytest.approx(
        np.exp(-mean_time / 30.0), abs=5e-5
    )  # a tenth of a millimetre of 2 m
