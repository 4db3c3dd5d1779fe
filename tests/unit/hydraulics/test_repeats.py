"""Repeats of one interval are compared as the trade compares them."""

import dataclasses

import numpy as np
import pytest

from geoprofile.hydraulics import repeat_check
from geoprofile.hydraulics.methods.hvorslev import PLUGIN
from geoprofile.hydraulics.tests import HydraulicTest


def repeat(
    name: str, factor: float = 1.0, lag: float = 1.0, kind: str = "falling"
) -> HydraulicTest:
    """The clean example with another displacement, speed or kind."""
    test = PLUGIN.example(1e-5)
    sign = 1.0 if kind == "falling" else -1.0
    return dataclasses.replace(
        test, test=name, kind=f"{kind} head", elapsed_s=lag * test.elapsed_s,
        displacement_m=sign * factor * test.displacement_m,
        expected_displacement_m=factor * 0.8,
    )  # fmt: skip


def words(*tests: HydraulicTest) -> str:
    """All notes as one text."""
    return "; ".join(repeat_check(tests).notes)


def test_repeats_that_coincide() -> None:
    """Three repeats with two displacements that fall together are linear."""
    check = repeat_check([repeat("a"), repeat("b", 0.4), repeat("c")])
    assert check.coincide
    assert check.spread == pytest.approx(0.0, abs=1e-9)
    assert not check.depends_on_displacement
    assert check.notes == ()


def test_response_that_depends_on_displacement() -> None:
    """A larger displacement that recovers slower points to turbulence."""
    check = repeat_check([repeat("a"), repeat("b", 2.5, lag=1.4), repeat("c")])
    assert check.depends_on_displacement
    assert not check.coincide
    assert "slower by 40 %" in "; ".join(check.notes)


def test_one_repeat_cannot_be_compared() -> None:
    """With one test there is no answer."""
    check = repeat_check([repeat("a")])
    assert check.coincide is None
    assert check.spread is None


def test_equal_displacements_do_not_show_linearity() -> None:
    """Two displacements a factor of two apart are needed."""
    assert "linearity is not shown" in words(repeat("a"), repeat("b"))


def test_repeats_that_drift_in_sequence() -> None:
    """Slower and slower: fines move."""
    tests = [repeat("a"), repeat("b", lag=1.2), repeat("c", lag=1.5)]
    assert "slower in sequence" in words(*tests)


def test_falling_against_rising() -> None:
    """A pair that differs points to a skin that moves."""
    assert "falling and rising" in words(repeat("a"), repeat("b", lag=1.5, kind="rising"))


def test_repeat_without_a_signal_is_left_out() -> None:
    """A test that cannot be read is named, the others are compared."""
    rng = np.random.default_rng(3)
    noise = dataclasses.replace(
        repeat("bad"), displacement_m=np.abs(rng.normal(0.0, 0.1, 120)) + 0.01
    )
    check = repeat_check([repeat("a"), noise, repeat("c", 0.4)])
    assert check.tests == ("a", "c")
    assert "bad left out" in "; ".join(check.notes)
