"""Every method, ours and installed, keeps the contract of the family."""

import dataclasses

import pytest

from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.plugins import registry
from geoprofile.testing import check_method

METHODS = registry.plugins("methods")


@pytest.mark.parametrize("name", METHODS)
def test_method_keeps_its_contract(name: str) -> None:
    """A method finds the K of its own example again and returns a complete record."""
    check_method(METHODS[name])


@pytest.mark.parametrize("name", METHODS)
def test_method_says_why_it_does_not_apply_to_another_kind(name: str) -> None:
    """A test of a kind that a method is not for is answered with a reason, not with an error."""
    plugin = METHODS[name]
    kinds = ("falling head", "rising head", "constant head", "pressure pulse")
    for kind in set(kinds) - set(plugin.kinds):
        test: HydraulicTest = dataclasses.replace(plugin.example(1e-3), kind=kind)
        fit = plugin.applies(test)
        assert not fit.applies
        assert len(fit.reason) > 5


def test_broken_method_is_told_in_words() -> None:
    """A method that finds twice the K fails its contract with a sentence that says so."""
    good = METHODS["hvorslev"]
    bad = dataclasses.replace(
        good, run=lambda t: dataclasses.replace(good.run(t), k_m_per_s=2 * good.run(t).k_m_per_s)
    )
    with pytest.raises(AssertionError, match="finds K"):
        check_method(bad)
