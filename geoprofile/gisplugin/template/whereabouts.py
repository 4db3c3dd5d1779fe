"""Where a row lies on the map: itself, or what it belongs to, as the project's relations say."""

from __future__ import annotations

import json
from typing import Any

from qgis.core import QgsExpression, QgsFeatureRequest, QgsProject

from .forms import PLACES
from .reload import layer_of

STEPS = 6  # from a row to its borehole, at most


def find(table: str, key: str) -> tuple[Any, list[int]] | None:
    """The layer and the rows that show where a row of a table lies; None where nothing does."""
    words = _words(key)
    layer = layer_of(table)
    found = _on_the_map(layer, _rows(layer, words)) if layer is not None else None
    if found is None:
        layer = layer_of(PLACES)
        found = _on_the_map(layer, _rows(layer, words)) if layer is not None else None
    return found


def _words(key: str) -> list[str]:
    """What a key may begin with: all of it, its first part, the borehole in the first part."""
    try:
        parts = json.loads(key) if key.startswith("[") else [key]
    except ValueError:
        parts = [key]
    first = str(parts[0]) if parts else key
    return list(dict.fromkeys((first, first.split(" ")[0], first.split("-")[0])))


def _rows(layer: Any, words: list[str]) -> list[Any]:
    """Rows named by a word: by their own name, else by that of what they belong to."""
    own = layer.fields().at(1).name()
    others = [layer.fields().at(i).name() for r in _relations(layer) for i in r.referencingFields()]
    for column in dict.fromkeys((own, *others)):
        for word in words:
            text = QgsExpression.createFieldEqualityExpression(column, word)
            if found := list(layer.getFeatures(QgsFeatureRequest(QgsExpression(text)))):
                return found
    return []


def _on_the_map(layer: Any, rows: list[Any]) -> tuple[Any, list[int]] | None:
    """Those rows, or what they belong to, as far up as the first layer with shapes."""
    for _ in range(STEPS):
        if not rows:
            return None
        if layer.isSpatial():
            return layer, [row.id() for row in rows]
        layer, rows = _parents(layer, rows)
    return None


def _parents(layer: Any, rows: list[Any]) -> tuple[Any, list[Any]]:
    """What these rows belong to, in the first relation that finds any."""
    for relation in _relations(layer):
        parents = {p.id(): p for p in map(relation.getReferencedFeature, rows) if p.isValid()}
        if parents:
            return relation.referencedLayer(), list(parents.values())
    return layer, []


def _relations(layer: Any) -> list[Any]:
    manager = QgsProject.instance().relationManager()
    return [r for r in manager.referencingRelations(layer) if r.isValid()]
