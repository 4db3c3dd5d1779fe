"""A descriptor of CSV tables: the Frictionless data package and table schema, version 1."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from geoprofile.formats._common import Sheet
from geoprofile.schema import Column

FILE = "datapackage.json"
KINDS = {
    "text": "string",
    "real": "number",
    "integer": "integer",
    "boolean": "boolean",
    "date": "date",
    "datetime": "datetime",
}


def descriptor(
    name: str, title: str, tables: Sequence[tuple[Sheet, Sequence[Column]]], *, encoding: str
) -> str:
    """The text of datapackage.json for CSV files that lie beside it.

    Parameters
    ----------
    name, title : str
        Of the site; the name in lower-case letters, digits, - and _.
    tables : sequence of (Sheet, columns)
        What was written, one file for each.
    encoding : str
        Of the files.

    Returns
    -------
    str
        JSON.
    """
    present = {sheet.name for sheet, _ in tables}
    made = {
        "profile": "tabular-data-package",
        "name": name,
        "title": title,
        "resources": [
            _resource(sheet, columns, present, "utf-8-sig" if "sig" in encoding else "utf-8")
            for sheet, columns in tables
        ],
    }
    return json.dumps(made, indent=1, ensure_ascii=False) + "\n"


def _resource(
    sheet: Sheet, columns: Sequence[Column], present: set[str], encoding: str
) -> dict[str, Any]:
    known = {c.name for c in sheet.table.columns}
    schema: dict[str, Any] = {"fields": [_field(c, c.name in known) for c in columns]}
    keys = [c for c in columns if c.key]
    if keys and all(c.required for c in keys):
        schema["primaryKey"] = [c.name for c in keys]
    foreign = [c for c in columns if c.references in present and c.references != sheet.name]
    if foreign:
        schema["foreignKeys"] = [
            {"fields": [c.name], "reference": {"resource": c.references, "fields": [c.references]}}
            for c in foreign
        ]
    return {
        "profile": "tabular-data-resource",
        "name": sheet.name,
        "path": f"{sheet.name}.csv",
        "title": sheet.table.title,
        "description": sheet.table.description,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": encoding,
        "dialect": {"delimiter": ",", "quoteChar": '"', "doubleQuote": True},
        "schema": schema,
    }


def _field(column: Column, is_ours: bool) -> dict[str, Any]:
    """A column; what a user added, or a shape, carries no promise of ours but its text."""
    kind = KINDS.get(column.kind, "string") if is_ours else "any"
    field: dict[str, Any] = {"name": column.name, "type": kind, "description": column.meaning}
    if kind == "datetime":
        field["format"] = "any"
    if column.unit:
        field["unit"] = column.unit  # a property beyond the standard, which allows them
    limits: dict[str, Any] = {}
    if column.required and is_ours:
        limits["required"] = True
    if column.allowed and is_ours:
        limits["enum"] = list(column.allowed)
    if limits:
        field["constraints"] = limits
    return field
