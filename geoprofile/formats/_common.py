"""What formats share: which tables go out, plain cells, names of files, optional libraries."""

from __future__ import annotations

import importlib
import importlib.util
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from geoprofile.errors import UsageError
from geoprofile.plugins import Loss, Setting
from geoprofile.schema import TABLES, Column, Table

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

OWNERS = ("input", "derived")
PROVENANCE = ("run", "source_file")  # the system tables that go out
Cell = bool | int | float | str | None
TABLES_SETTING = Setting(
    "tables", [], "", "Tables to write; empty for every table that has rows", ()
)
HEIGHTS = (
    "elevations stay in metres above the site's vertical datum ({datum}); they are not heights "
    "above the WGS 84 ellipsoid"
)


@dataclass(frozen=True, eq=False)
class Sheet:
    """A table that goes out: its record, cut to the columns that are there, and its rows."""

    table: Table
    frame: pd.DataFrame

    @property
    def name(self) -> str:
        """Name of the table."""
        return self.table.name

    @property
    def is_map(self) -> bool:
        """Whether the shapes lie on the map."""
        return self.table.geometry is not None and self.table.plane == "site"

    @property
    def columns(self) -> tuple[str, ...]:
        """Every column but the shape, the schema's first."""
        return tuple(str(c) for c in self.frame.columns if c != "geometry")


def sheets_of(site: Site, settings: Mapping[str, Any]) -> list[Sheet]:
    """The tables that go out, those with rows, in the order of the schema."""
    wanted = list(settings.get("tables") or [])
    unknown = [name for name in wanted if name not in TABLES]
    if unknown:
        raise UsageError(
            "tables", f"'{unknown[0]}'", f"names among {', '.join(TABLES)}", "Check the name."
        )
    names = wanted or [t.name for t in TABLES.values() if t.owner in OWNERS or t.name in PROVENANCE]
    found = [(TABLES[n], site.tables[n]) for n in TABLES if n in names and n in site.tables]
    present = {table.name for table, frame in found if len(frame)}
    return [_sheet(table, frame, present) for table, frame in found if len(frame)]


def _sheet(table: Table, frame: pd.DataFrame, present: set[str]) -> Sheet:
    own = tuple(_freed(c, present) for c in table.columns if c.name in frame.columns)
    users = [c for c in frame.columns if c not in {x.name for x in own} and c != "geometry"]
    shape = ["geometry"] if "geometry" in frame.columns else []
    kept = frame[[*(c.name for c in own), *users, *shape]]
    return Sheet(replace(table, columns=own), kept.reset_index(drop=True))


def _freed(column: Column, present: set[str]) -> Column:
    """A column without a reference to a table that stays at home."""
    if column.references in present and column.references == "borehole":
        return column
    return replace(column, references=None)


def cells(series: pd.Series[Any]) -> list[Cell]:
    """A column as plain values, None for what is empty; an infinite number is empty too."""
    return [_plain(v) for v in series.astype(object).where(series.notna(), None).tolist()]


def _plain(value: Any) -> Cell:
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    return str(value)


def safe_name(text: str) -> str:
    """A text as the stem of a file: letters, digits, _ and -; never empty, never a way out."""
    stem = re.sub(r"[^A-Za-z0-9_-]+", "_", text).strip("_")[:60]
    return stem or "site"


def left_out(sheets: Iterable[Sheet], reason: str) -> list[Loss]:
    """One loss for each table that a format cannot carry."""
    return [Loss(s.name, "dropped", f"{len(s.frame)} row(s): {reason}") for s in sheets]


LIBRARIES = {"parquet": "pyarrow", "raster": "rasterio", "dxf": "ezdxf"}


def require(needs: str) -> None:
    """UsageError where the library of an optional part is not installed; it is not loaded."""
    name = LIBRARIES.get(needs)
    if name is not None and importlib.util.find_spec(name) is None:
        raise _missing(name, needs)


def library(name: str, needs: str) -> Any:
    """An optional library, or a UsageError that says how to get it."""
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise _missing(name, needs) from error


def _missing(name: str, needs: str) -> UsageError:
    return UsageError(
        f"library {name}",
        "that it is not installed",
        f"the optional part '{needs}' of geoprofile",
        # the library by its own name: an index may hold another package under the program's
        f"Install it: python -m pip install {name.partition('.')[0].replace('_', '-')}",
    )
