"""The project as one XML document, as the desktop GIS reads it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from geoprofile.drawing.styles.model import layer_id
from geoprofile.gisproject.layers import (
    MapLayer,
    default_of,
    drawing_order,
    layers_of,
    themes_of,
)
from geoprofile.gisproject.layouts import add_layouts
from geoprofile.gisproject.order import SHEETS
from geoprofile.schema import INPUT, Table
from geoprofile.store.projects import Box, Contents
from geoprofile.store.reference import Reference

DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
VERSION = "3.22.0"
NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")  # what no XML may hold
SHAPES = {"PointZ": "Point", "Point": "Point", "LineString": "Line", "LineStringZ": "Line"}
MARGIN = 0.05  # of the site's extent, around it on the screen


def document(contents: Contents, file: str) -> str:
    """The text of the project of a site file, which lies beside it under the name `file`."""
    layers, default = layers_of(contents), default_of(contents)
    root = Element("qgis", projectname=contents.name, version=VERSION)
    SubElement(root, "homePath", path="")
    SubElement(root, "title").text = contents.name
    _add_system(SubElement(root, "projectCrs"), contents.site)
    _add_tree(root, layers, file)
    _add_relations(root)
    extent = extent_of(contents)
    _add_canvas(root, "theMapCanvas", contents.site, _wider(extent))
    themes = themes_of(layers, default)
    _add_views(root, contents, themes)
    _add_projectlayers(root, layers, contents, file)
    order = SubElement(root, "layerorder")
    for layer in drawing_order(layers):
        SubElement(order, "layer", id=layer.key)
    _add_properties(root)
    _add_themes(root, themes)
    add_layouts(root, contents, layers, default, extent, file)
    indent(root, " ")
    return DOCTYPE + NO_TEXT.sub("", tostring(root, encoding="unicode"))


def extent_of(contents: Contents) -> Box | None:
    """The box around boreholes, areas and section lines."""
    boxes = [
        h.extent
        for h in contents.tables
        if h.extent is not None and h.table.plane == "site" and h.table.owner == "input"
    ]
    if not boxes:
        return None
    low_x, low_y = min(b[0] for b in boxes), min(b[1] for b in boxes)
    high_x, high_y = max(b[2] for b in boxes), max(b[3] for b in boxes)
    return low_x, low_y, high_x, high_y


def _wider(box: Box | None) -> Box | None:
    """The box with a margin around it."""
    if box is None:
        return None
    edge = MARGIN * max(box[2] - box[0], box[3] - box[1], 1.0)
    return box[0] - edge, box[1] - edge, box[2] + edge, box[3] + edge


def source_of(layer: MapLayer, file: str) -> str:
    """Where the GIS finds a layer, from the project's folder."""
    subset = f"|subset={layer.subset}" if layer.subset else ""
    return f"./{file}|layername={layer.table.name}{subset}"


def _add_system(parent: Element, system: Reference | None) -> None:
    place = SubElement(parent, "spatialrefsys")
    known = system is not None and system.organisation.upper() == "EPSG"
    SubElement(place, "wkt").text = system.wkt2 if system else ""
    SubElement(place, "proj4")
    SubElement(place, "srsid").text = "0"
    SubElement(place, "authid").text = f"EPSG:{system.code}" if known and system else ""
    SubElement(place, "description").text = system.name if system else ""


def _add_tree(root: Element, layers: Sequence[MapLayer], file: str) -> None:
    tree = SubElement(root, "layer-tree-group")
    groups: dict[tuple[str, ...], Element] = {(): tree}
    for layer in layers:
        for depth in range(1, len(layer.groups) + 1):
            path = layer.groups[:depth]
            if path not in groups:
                shown = any(m.shown for m in layers if m.groups[:depth] == path)
                groups[path] = SubElement(
                    groups[path[:-1]],
                    "layer-tree-group",
                    name=path[-1],
                    checked="Qt::Checked" if path[0] not in SHEETS else "Qt::Unchecked",
                    expanded=str(int(shown)),
                )
        add_tree_layer(groups[layer.groups], layer, file)
    order = SubElement(tree, "custom-order", enabled="1")
    for layer in drawing_order(layers):
        SubElement(order, "item").text = layer.key


def add_tree_layer(parent: Element, layer: MapLayer, file: str) -> None:
    """Add an entry of the legend."""
    SubElement(
        parent,
        "layer-tree-layer",
        id=layer.key,
        name=layer.title,
        source=source_of(layer, file),
        providerKey="ogr",
        checked="Qt::Checked" if layer.shown else "Qt::Unchecked",
        expanded=str(int(layer.shown)),
        legend_exp="",
    )


def _add_relations(root: Element) -> None:
    """Rows of one table that name a row of another: shown in the form of the other."""
    listed = SubElement(root, "relations")
    for table in INPUT:
        for column in table.columns:
            other = column.references
            if other is None or other == table.name:
                continue
            relation = SubElement(
                listed,
                "relation",
                id=f"{table.name}_{column.name}",
                name=table.title,
                referencingLayer=layer_id(table.name),
                referencedLayer=layer_id(other),
                strength="Association",
            )
            key = next(t for t in INPUT if t.name == other).key[0]
            SubElement(relation, "fieldRef", referencingField=column.name, referencedField=key)


def _add_canvas(
    root: Element, name: str, system: Reference | None, extent: Box | None, theme: str = ""
) -> None:
    canvas = SubElement(root, "mapcanvas", name=name, annotationsVisible="1")
    if theme:
        canvas.set("theme", theme)
    SubElement(canvas, "units").text = "meters"
    if extent is not None:
        add_box(canvas, "extent", extent)
    SubElement(canvas, "rotation").text = "0"
    _add_system(SubElement(canvas, "destinationsrs"), system)


def add_box(parent: Element, name: str, box: Box) -> None:
    """Add an extent as four corners."""
    place = SubElement(parent, name)
    for corner, value in zip(("xmin", "ymin", "xmax", "ymax"), box, strict=True):
        SubElement(place, corner).text = repr(value)


def _add_views(root: Element, contents: Contents, themes: Mapping[str, object]) -> None:
    """Sections lie on a sheet of their own, so they get a map view of their own: exaggerated ones,
    for at one scale both ways they are thin strips. The view can be set to the other theme.
    """
    docks = SubElement(root, "mapViewDocks")
    for sheet in [s for s in SHEETS if s in themes][-1:]:
        held = contents.held("section_hole" + ("_exaggerated" if sheet == SHEETS[1] else ""))
        box = _wider(held.extent if held else None)
        # without a system the view draws the sheet as it is; with one, a transform is looked for
        _add_canvas(root, sheet, None, box, sheet)
        SubElement(
            docks,
            "mapViewDock",
            name=sheet,
            synced="0",
            showCursor="0",
            scaleSynced="0",
            scaleFactor="1",
            showExtent="0",
            showLabels="1",
            zoomSelected="0",
            floating="0",
            area="8",
            x="0",
            y="0",
            width="900",
            height="260",
        )


def _add_projectlayers(
    root: Element, layers: Sequence[MapLayer], contents: Contents, file: str
) -> None:
    listed = SubElement(root, "projectlayers")
    for layer in layers:
        table = layer.table
        place = SubElement(
            listed,
            "maplayer",
            type="vector",
            geometry=_shape(table),
            styleCategories="AllStyleCategories",
            readOnly=str(int(table.owner != "input")),  # computed anew: an edit would be lost
            labelsEnabled=layer.style.get("labelsEnabled", "0"),
        )
        SubElement(place, "id").text = layer.key
        SubElement(place, "datasource").text = source_of(layer, file)
        SubElement(place, "layername").text = layer.title
        SubElement(place, "abstract").text = table.description
        system = {"site": contents.site, "section": contents.section}[table.plane]
        if table.geometry:
            _add_system(SubElement(place, "srs"), system)
        SubElement(place, "provider", encoding="UTF-8").text = "ogr"
        for child in layer.style:
            place.append(child)
        if table.key:
            SubElement(place, "previewExpression").text = f'"{table.key[-1]}"'


def _shape(table: Table) -> str:
    if table.geometry is None:
        return "No geometry"
    return SHAPES.get(table.geometry.removeprefix("Multi"), "Polygon")


PROPERTIES = {
    "Paths": {"Absolute": ("bool", "false")},  # so that folder and file can be moved
    "SpatialRefSys": {"ProjectionsEnabled": ("int", "1")},  # else the project has no system
    "Measurement": {"DistanceUnits": ("QString", "meters"), "AreaUnits": ("QString", "m2")},
    "Measure": {"Ellipsoid": ("QString", "NONE")},
}


def _add_properties(root: Element) -> None:
    listed = SubElement(root, "properties")
    for group, entries in PROPERTIES.items():
        place = SubElement(listed, group)
        for name, (kind, value) in entries.items():
            SubElement(place, name, type=kind).text = value


def _add_themes(root: Element, themes: Mapping[str, Sequence[str]]) -> None:
    listed = SubElement(root, "visibility-presets")
    for name, keys in themes.items():
        preset = SubElement(listed, "visibility-preset", {"name": name, "has-expanded-info": "0"})
        for key in keys:
            SubElement(preset, "layer", id=key, visible="1", style="default", expanded="1")
