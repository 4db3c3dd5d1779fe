"""The records that describe a table and a column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "real", "integer", "boolean", "datetime", "date"]
Owner = Literal["input", "derived", "system"]
Plane = Literal["site", "section"]
OFFSET = "_offset"  # ends the column that keeps how far from UTC a time was written


@dataclass(frozen=True)
class Column:
    """One column: its name, type, unit and meaning, and what it may hold.

    `unit` is a unit symbol ("m", "m/s", "ug/L", ...), "1" for a pure number, "" for text, dates and
    flags. `low` and `high` are inclusive unless `above` is set, which is an exclusive lower limit.
    `references` names the table whose key this column must hold. `default` fills an empty cell.
    """

    name: str
    kind: Kind
    unit: str
    meaning: str
    required: bool = False
    key: bool = False
    allowed: tuple[str, ...] = ()
    low: float | None = None
    above: float | None = None
    high: float | None = None
    references: str | None = None
    default: str | float | None = None
    many: bool = False


@dataclass(frozen=True)
class Table:
    """One table: who owns it, what shape its geometry has, and its columns.

    `owner` is "field" (the user's), "derived" (rebuilt by geoprofile) or "system" (bookkeeping).
    `plane` is "section" where the geometry lies in the section plane and not on the map.
    `batch` names the column whose rows are loaded and replaced together ("" for row by row).
    """

    name: str
    title: str
    description: str
    owner: Owner
    columns: tuple[Column, ...]
    geometry: str | None = None
    plane: Plane = "site"
    batch: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """Names of the key columns, in order."""
        return tuple(c.name for c in self.columns if c.key)

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the columns that may not be empty, in order."""
        return tuple(c.name for c in self.columns if c.required)

    def column(self, name: str) -> Column:
        """The column of that name; KeyError when there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)
