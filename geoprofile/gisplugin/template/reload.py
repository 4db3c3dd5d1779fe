"""Shows what a command changed in layers that are open, and leaves them as the user has them."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from typing import Any

from qgis.core import QgsProject, QgsProviderRegistry


def table_of(layer: Any) -> tuple[str, str]:
    """The file and the table of a layer; two empty texts where it has none."""
    registry = QgsProviderRegistry.instance()
    parts = registry.decodeUri(layer.providerType(), layer.source())
    return str(parts.get("path") or ""), str(parts.get("layerName") or "")


def layer_of(table: str) -> Any:
    """The first layer of a table of a site file in the project, or None."""
    for layer in QgsProject.instance().mapLayers().values():
        path, name = table_of(layer)
        if name == table and path.endswith(".gpkg"):
            return layer
    return None


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


def show_new(site: str) -> str:
    """Show what was computed for the first time: open the site's project again if it is the one
    that is open, and nothing in it would be lost. What happened, in words; nothing where all is
    shown.
    """
    project, file = QgsProject.instance(), Path(site).with_suffix(".qgz")
    new = len(_layers_in(file) - set(project.mapLayers()))
    if not new:
        return ""
    is_open = _plain(project.fileName()) == _plain(str(file))
    if is_open and not project.isDirty() and project.read():
        return f"{new} new layers are shown."
    return f"{new} new layers are in {file.name}: save this project, then open that one."


def _layers_in(file: Path) -> set[str]:
    """The names by which a project knows its layers."""
    try:
        with zipfile.ZipFile(file) as archive:
            text = archive.read(archive.namelist()[0]).decode("utf-8")
    except (OSError, ValueError, IndexError, zipfile.BadZipFile):
        return set()
    return set(re.findall(r"<maplayer\b.*?<id>([^<]+)</id>", text, re.DOTALL))


def _plain(path: str) -> str:
    return path.replace("\\", "/").casefold()
