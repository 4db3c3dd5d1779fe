"""Bad tests are never accepted, and say why."""

import dataclasses

import numpy as np
import pytest

from geoprofile.hydraulics import analyse, interval_value
from geoprofile.hydraulics.methods.hvorslev import PLUGIN
from geoprofile.hydraulics.tests import HydraulicTest, TestAnalysis
from geoprofile.plugins import registry

GOOD = PLUGIN.example(1e-5)
METHODS = list(registry.plugins("methods").values())


def graded(**changes: object) -> TestAnalysis:
    """The analysis of the clean example, changed."""
    return analyse(dataclasses.replace(GOOD, **changes), METHODS)


def test_clean_test_is_accepted() -> None:
    """Nothing wrong: accepted."""
    assert graded().grade == "accepted"


@pytest.mark.parametrize(
    ("share", "grade"), [(0.02, "accepted"), (0.1, "qualified"), (0.8, "rejected")]
)
def test_leak_past_the_element_is_graded_by_its_size(share: float, grade: str) -> None:
    """By water, not by pressure: 2 % of the head in a wide annulus is 5 % of the water."""
    outside = share * (GOOD.displacement_m[0] - GOOD.displacement_m)
    analysis = graded(outside_displacement_m=outside)
    assert analysis.grade == grade
    assert any("passed the element" in words for words in analysis.notes)


@pytest.mark.parametrize(("rows", "grade"), [(36, "qualified"), (15, "qualified"), (8, "rejected")])
def test_early_stop_is_graded_by_what_is_left(rows: int, grade: str) -> None:
    """A test stopped above 25 % is qualified, above 75 % rejected."""
    analysis = graded(elapsed_s=GOOD.elapsed_s[:rows], displacement_m=GOOD.displacement_m[:rows])
    assert analysis.grade == grade
    assert any("stopped early" in words for words in analysis.notes)


def test_few_readings_before_37_percent_are_qualified() -> None:
    """Fewer than five readings in the steep part: qualified."""
    analysis = graded(elapsed_s=GOOD.elapsed_s[::10], displacement_m=GOOD.displacement_m[::10])
    assert analysis.grade == "qualified"


@pytest.mark.parametrize("error", [0.7, 1.3])
def test_riser_wrong_by_a_third_shows_in_h0(error: float) -> None:
    """The same volume in a riser wrong by 30 % should have made another displacement."""
    analysis = graded(expected_displacement_m=0.8 / error**2)
    assert analysis.grade != "accepted"


def test_jump_against_the_recovery_is_not_accepted() -> None:
    """Air that breaks free makes the level jump."""
    jumped = GOOD.displacement_m + np.where(np.arange(120) > 50, 0.08, 0.0)
    assert graded(displacement_m=jumped).grade != "accepted"


def test_chosen_method_and_window_are_honoured() -> None:
    """The user's method is preferred even where another scores higher."""
    analysis = graded(chosen_method="bouwer-rice", chosen_window=(0.5, 0.1))
    assert analysis.best is not None
    assert analysis.best.method == "bouwer-rice"
    assert analysis.best.window == (0.5, 0.1)
    assert analysis.by_user


def test_methods_that_do_not_apply_say_why() -> None:
    """Every method left out has a reason."""
    reasons = dict(graded().not_applicable)
    assert "open wall" in reasons["hvorslev-open-end"]


def repeats(*ks: float) -> list[TestAnalysis]:
    """Clean repeats of one interval."""
    tests: list[HydraulicTest] = [
        dataclasses.replace(PLUGIN.example(k), test=f"r{i}") for i, k in enumerate(ks)
    ]
    return [analyse(t, [PLUGIN]) for t in tests]


def test_interval_value_is_the_geometric_mean_of_repeats() -> None:
    """Repeats of 0.9 and 1.1 combine to their geometric mean."""
    tests = repeats(0.9e-5, 1.1e-5)
    value = interval_value(tests)
    single = [a.best.k_m_per_s for a in tests if a.best]
    assert value.k_m_per_s == pytest.approx(np.sqrt(single[0] * single[1]), rel=1e-9)
    assert single[1] / single[0] == pytest.approx(1.1 / 0.9, rel=1e-3)
    assert value.tests == ("r0", "r1")


def test_repeats_that_differ_widely_are_qualified() -> None:
    """A factor of three between repeats is no accepted value."""
    value = interval_value(repeats(1e-5, 3e-5, 1e-5))
    assert value.grade == "qualified"
    assert any("factor of 3.0" in words for words in value.notes)


def test_rejected_repeat_is_left_out() -> None:
    """A repeat that leaked does not move the value."""
    outside = 0.2 * (GOOD.displacement_m[0] - GOOD.displacement_m)
    bad = dataclasses.replace(GOOD, test="bad", outside_displacement_m=outside)
    value = interval_value([*repeats(1e-5), analyse(bad, [PLUGIN])])
    assert value.tests == ("r0",)
    assert any("bad" in words for words in value.notes)
