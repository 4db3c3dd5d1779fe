"""A column in words: for the dictionary in the file and for the forms of a GIS."""

from __future__ import annotations

from geoprofile.schema.table import Column


def label(column: Column) -> str:
    """The column in words with its unit: `Depth of the hole along its path [m]`."""
    return f"{column.meaning} [{column.unit}]" if column.unit else column.meaning


def describe(column: Column) -> str:
    """Unit, limits, allowed words and role of a column in one sentence."""
    units = {"": "no unit", "1": "a pure number"}
    parts = [units.get(column.unit, f"unit {column.unit}")]
    if column.above is not None:
        parts.append(f"above {column.above:g}")
    if column.low is not None:
        parts.append(f"{column.low:g} or more")
    if column.high is not None:
        parts.append(f"{column.high:g} or less")
    if column.allowed:
        parts.append("one of: " + ", ".join(column.allowed))
    if column.references:
        parts.append(f"a row of table {column.references}")
    if column.key:
        parts.append("part of the key")
    parts.append("required" if column.required else "may be empty")
    return "; ".join(parts)


def explain(column: Column) -> str:
    """Meaning, unit and limits of a column: what a GIS shows as help."""
    return f"{column.meaning}; {describe(column)}"
