"""What our products offer has a name in the contract, and is there."""

from __future__ import annotations

import pytest

from geoprofile.plugins import OFFERS
from geoprofile.plugins.registry import _products, products_with


@pytest.mark.parametrize("product", _products(), ids=lambda p: p.__name__.rpartition(".")[2])
def test_offers_are_those_of_the_contract(product) -> None:
    """A misspelt offer would never be asked for."""
    assert set(getattr(product, "OFFERS", {})) <= set(OFFERS)


@pytest.mark.parametrize("what", OFFERS)
def test_every_offer_can_be_had(what: str) -> None:
    """Each names a module and a name in it."""
    for offers in products_with(what):
        assert offers(what) is not None
