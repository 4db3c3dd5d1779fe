"""Every layer keeps the contract of its family."""

from __future__ import annotations

import pytest

from geoprofile.engine import in_order
from geoprofile.plugins import Layer
from geoprofile.plugins.registry import plugins
from geoprofile.schema import TABLES

LAYERS = plugins("layers")


@pytest.mark.parametrize("layer", LAYERS.values(), ids=lambda x: x.name)
def test_layer_reads_and_writes_tables_of_the_schema(layer: Layer) -> None:
    """Names are tables of the schema; only derived tables are written."""
    assert layer.summary
    for table in layer.reads:
        assert table in TABLES
    for table in layer.writes:
        assert TABLES[table].owner == "derived"


def test_layers_can_be_put_in_order() -> None:
    """No layer comes before one that it reads from."""
    seen: set[str] = set()
    written = {t for layer in LAYERS.values() for t in layer.writes}
    for layer in in_order(LAYERS):
        assert {t for t in layer.reads if t in written} <= seen | set(layer.writes)
        seen |= set(layer.writes)
