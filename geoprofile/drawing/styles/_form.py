"""The form of a table in QML: a widget, its rule and its help for each column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element, SubElement

from geoprofile.drawing.styles.model import Entry, Parent, Widget, layer_id

Option = bool | int | str | Sequence["Option"] | Mapping[str, "Option"]

EMPTY = "{2839923C-8B7D-419E-B84B-CA2FE9B80EC7}"  # what QGIS takes for an empty cell in a list
NOTHING = "(empty)"
NOT_EMPTY, UNIQUE, RULE = 1, 2, 4  # the numbers by which QGIS knows the kinds of rule
REFUSED = "1"  # a row that breaks the rule is not saved
SITE_FOLDER = "file_path(regexp_replace(layer_property(@layer, 'source'), '[|].*$', ''))"
KINDS: Mapping[Widget, str] = {
    "hidden": "Hidden",
    "text": "TextEdit",
    "long text": "TextEdit",
    "words": "ValueMap",
    "yes or no": "ValueMap",
    "pick": "ValueRelation",
    "day": "DateTime",
    "time": "DateTime",
    "file": "ExternalResource",
}


def add_form(root: Element, entries: Sequence[Entry]) -> None:
    """Add widgets and rules of the columns to a QML document."""
    if not entries:
        return
    listed = SubElement(root, "fieldConfiguration")
    rules, words = SubElement(root, "constraints"), SubElement(root, "constraintExpressions")
    for entry in entries:
        field = SubElement(listed, "field", name=entry.column, configurationFlags="None")
        widget = SubElement(field, "editWidget", type=KINDS[entry.widget])
        _add_option(SubElement(widget, "config"), "", _options(entry))
        if entry.widget != "hidden":
            _add_rules(rules, words, entry)
    SubElement(root, "editorlayout").text = "generatedlayout"  # so the user's own columns show


def _add_rules(rules: Element, words: Element, entry: Entry) -> None:
    asked = {NOT_EMPTY: entry.required, UNIQUE: entry.unique, RULE: bool(entry.rule)}
    strength = {kind: REFUSED if on else "0" for kind, on in asked.items()}
    SubElement(
        rules,
        "constraint",
        field=entry.column,
        constraints=str(sum(kind for kind, on in asked.items() if on)),
        notnull_strength=strength[NOT_EMPTY],
        unique_strength=strength[UNIQUE],
        exp_strength=strength[RULE],
    )
    SubElement(words, "constraint", field=entry.column, exp=entry.rule, desc=entry.help)


def _options(entry: Entry) -> dict[str, Option]:
    if entry.widget in ("text", "long text"):
        return {"IsMultiline": entry.widget == "long text", "UseHtml": False}
    if entry.widget == "words":
        return _listed({w: w for w in entry.words}, entry)
    if entry.widget == "yes or no":  # a box to tick would answer "no" by itself
        return _listed({"yes": "true", "no": "false"}, entry)
    if entry.parent is not None:
        return _picked(entry.parent, entry)
    if entry.widget in ("day", "time"):
        return _dated("yyyy-MM-dd" if entry.widget == "day" else "yyyy-MM-dd HH:mm:ss")
    return _filed() if entry.widget == "file" else {}


def _listed(values: Mapping[str, str], entry: Entry) -> dict[str, Option]:
    pairs = [{title: value} for title, value in values.items()]
    return {"map": pairs if entry.required else [{NOTHING: EMPTY}, *pairs]}


def _picked(parent: Parent, entry: Entry) -> dict[str, Option]:
    """Rows of another table, which QGIS finds by its name in the project or in the same file."""
    near = parent.narrowed_by
    return {
        "Layer": layer_id(parent.table),
        "LayerName": parent.table,
        "LayerProviderName": "ogr",
        "LayerSource": f"./site.gpkg|layername={parent.table}",
        "Key": parent.key,
        "Value": parent.key,
        "AllowNull": not entry.required,
        "AllowMulti": False,
        "NofColumns": 1,
        "OrderByValue": True,
        "UseCompleter": False,  # with it, a key whose table is not open would be lost
        "FilterExpression": f"coalesce(\"{near}\" = current_value('{near}'), true)" if near else "",
    }


def _dated(form: str) -> dict[str, Option]:
    return {
        "allow_null": True,
        "calendar_popup": True,
        "display_format": form,
        "field_format": form,
        "field_iso_format": False,
    }


def _filed() -> dict[str, Option]:
    """A file beside the site file, kept by its way from there; a picture is shown."""
    root: dict[str, Option] = {"active": True, "expression": SITE_FOLDER, "type": 3}
    return {
        "DocumentViewer": 1,
        "DocumentViewerHeight": 300,
        "DocumentViewerWidth": 0,
        "FileWidget": True,
        "FileWidgetButton": True,
        "FileWidgetFilter": "",
        "FullUrl": False,
        "RelativeStorage": 2,
        "StorageMode": 0,
        "UseLink": False,
        "PropertyCollection": {
            "name": "",
            "properties": {"propertyRootPath": root},
            "type": "collection",
        },
    }


def _add_option(parent: Element, name: str, value: Option) -> None:
    element = SubElement(parent, "Option")
    if name:
        element.set("name", name)
    if isinstance(value, Mapping):
        element.set("type", "Map")
        for key, inner in value.items():
            _add_option(element, key, inner)
    elif isinstance(value, bool):
        element.set("type", "bool")
        element.set("value", str(value).lower())
    elif isinstance(value, int | str):
        element.set("type", "int" if isinstance(value, int) else "QString")
        element.set("value", str(value))
    else:
        element.set("type", "List")
        for inner in value:
            _add_option(element, "", inner)
