"""Shows what a command changed in layers that are open, and leaves them as the user has them."""

from __future__ import annotations

from typing import Any

from qgis.core import QgsProject, QgsProviderRegistry


def table_of(layer: Any) -> tuple[str, str]:
    """The file and the table of a layer; two empty texts where it has none."""
    registry = QgsProviderRegistry.instance()
    parts = registry.decodeUri(layer.providerType(), layer.source())
    return str(parts.get("path") or ""), str(parts.get("layerName") or "")


def reload_tables(tables: dict[str, list[str]]) -> list[str]:
    """Read the layers of changed tables again; their names."""
    changed = {(_plain(path), name) for path, names in tables.items() for name in names}
    found = []
    for layer in QgsProject.instance().mapLayers().values():
        path, name = table_of(layer)
        if (_plain(path), name) in changed and not layer.isEditable():
            layer.dataProvider().reloadData()
            layer.updateExtents()
            layer.triggerRepaint()
            found.append(layer.name())
    return found


def _plain(path: str) -> str:
    return path.replace("\\", "/").casefold()
