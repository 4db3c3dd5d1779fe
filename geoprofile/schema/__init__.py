"""Every table and column as data: what intake, database, dictionary and docs follow.

The derived tables are those of the products, ours and installed ones. `DERIVED` and `TABLES` are
put together when first asked for, so that the tables of a product may import this package.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from geoprofile.errors import UsageError
from geoprofile.schema.finding import FINDING
from geoprofile.schema.inputs import INPUT
from geoprofile.schema.system import SYSTEM
from geoprofile.schema.table import OFFSET, Column, Table

SCHEMA_VERSION = 4

__all__ = ["DERIVED", "INPUT", "OFFSET", "SCHEMA_VERSION", "SYSTEM", "TABLES", "Column", "Table"]

if TYPE_CHECKING:
    DERIVED: tuple[Table, ...]
    TABLES: Mapping[str, Table]


def __getattr__(name: str) -> Any:
    """`DERIVED` and `TABLES`, with what products bring."""
    if name == "DERIVED":
        return _derived()
    if name == "TABLES":
        return _tables()
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


@cache
def _derived() -> tuple[Table, ...]:
    from geoprofile.plugins.registry import offered_by_all

    offered = (table for tables in offered_by_all("tables") for table in tables)
    return (*map(_sound, offered), FINDING)


@cache
def _tables() -> Mapping[str, Table]:
    found: dict[str, Table] = {}
    for table in (*INPUT, *_derived(), *SYSTEM):
        if table.name in found:
            raise _wrong(table.name, "a name that another table has", "a name of its own")
        found[table.name] = table
    return found


def _sound(table: Any) -> Table:
    """A product's table, which must be as ours are: derived, and each row with its run."""
    if not isinstance(table, Table):
        raise _wrong(str(table)[:60], f"a {type(table).__name__}", "a Table record")
    if table.owner != "derived":
        raise _wrong(table.name, f"owner '{table.owner}'", "owner 'derived'")
    if "run" not in {c.name for c in table.columns}:
        raise _wrong(table.name, "no column 'run'", "schema.columns.RUN among its columns")
    if not table.name.isidentifier() or not table.name.islower():
        raise _wrong(table.name, f"the name '{table.name}'", "lower case letters, digits and _")
    return table


def _wrong(table: str, found: str, allowed: str) -> UsageError:
    advice = "Correct or uninstall the package of the product that offers it."
    return UsageError(f"table {table}", found, allowed, advice)
