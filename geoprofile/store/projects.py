"""The project of a desktop GIS that lies inside the site file, and what is needed to write one.

The GIS keeps projects in a table of its own, `qgis_projects`: the name, some facts in JSON, and the
zipped project as hexadecimal text.
"""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from geoprofile.errors import ChangedError
from geoprofile.schema import DERIVED, INPUT, Table
from geoprofile.store.connection import quoted, reading, writing
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.opening import read_settings
from geoprofile.store.reference import SECTION, Reference, site_reference
from geoprofile.store.styling import OWNER, renew_forms, rows_for_style
from geoprofile.store.writing import now_utc, refuse_foreign_sql

PROJECTS = (
    "CREATE TABLE IF NOT EXISTS qgis_projects(name TEXT PRIMARY KEY, metadata BLOB, content BLOB)"
)
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Held:
    """A table as the file holds it: how many rows, the values that its style is made from, where.

    `own_style` is the QML that the user saved as the default of the table.
    """

    table: Table
    count: int
    values: tuple[dict[str, object], ...]
    extent: Box | None
    own_style: str | None


@dataclass(frozen=True)
class Contents:
    """What a project of the site file is made from."""

    name: str
    vertical_datum: str
    site: Reference
    section: Reference
    tables: tuple[Held, ...]
    settings: Mapping[str, Any] = field(default_factory=dict)

    def held(self, name: str) -> Held | None:
        """The table of that name, if the file has it."""
        return next((h for h in self.tables if h.table.name == name), None)


def contents_of(path: Path) -> Contents:
    """What the file holds, in the order of the schema."""
    with reading(path) as connection:
        settings = read_settings(connection, path)
        present = [t.name for t in (*INPUT, *DERIVED) if columns_of(connection, t.name)]
        found = contents_in(
            connection,
            str(settings.get("name", "")),
            str(settings.get("vertical_datum", "")),
            str(settings["crs"]),
            present,
        )
        return replace(found, settings=settings)


def contents_in(
    connection: sqlite3.Connection, name: str, vertical_datum: str, crs: str, tables: Sequence[str]
) -> Contents:
    """What any file of ours holds in some tables, in the order of the schema."""
    held = [_held(connection, t) for t in (*INPUT, *DERIVED) if t.name in tables]
    return Contents(name, vertical_datum, site_reference(crs), SECTION, tuple(held))


def _held(connection: sqlite3.Connection, table: Table) -> Held:
    (count,) = connection.execute(f"SELECT count(*) FROM {quoted(table.name)}").fetchone()
    box = connection.execute(
        "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?", (table.name,)
    ).fetchone()
    own = connection.execute(
        "SELECT styleQML FROM layer_styles WHERE f_table_name = ? AND useAsDefault "
        "AND owner IS NOT ? ORDER BY update_time DESC LIMIT 1",
        (table.name, OWNER),
    ).fetchone()
    whole = box is not None and all(isinstance(v, int | float) for v in box)
    return Held(
        table,
        int(count),
        tuple(rows_for_style(connection, table)),
        tuple(box) if whole and table.geometry else None,
        str(own[0]) if own and own[0] else None,
    )


def stored_project(path: Path, name: str) -> bytes | None:
    """The zipped project of that name; None where there is none, no bytes where it is no such."""
    with reading(path) as connection:
        return _stored(connection, name)


def _stored(connection: sqlite3.Connection, name: str) -> bytes | None:
    if not columns_of(connection, "qgis_projects"):
        return None
    row = connection.execute("SELECT content FROM qgis_projects WHERE name = ?", (name,)).fetchone()
    if row is None:
        return None
    text = row[0].decode("ascii", "replace") if isinstance(row[0], bytes) else str(row[0])
    try:
        return bytes.fromhex(text)
    except ValueError:
        return b""


def store_project(
    path: Path,
    name: str,
    content: bytes,
    *,
    keep_as: str = "",
    seen: tuple[bytes | None] | None = None,
) -> None:
    """Put a zipped project into the file; what had its name is kept as `keep_as`, if given.

    `seen` is what stood there when this one was made: ChangedError where something else does now.
    """
    now = now_utc()
    facts = json.dumps({"last_modified_time": now[:19], "last_modified_user": OWNER})
    with writing(path) as connection:
        refuse_foreign_sql(connection)
        if seen is not None and (_stored(connection, name),) != seen:
            raise ChangedError(
                path.name,
                f"that another program saved the project '{name}' meanwhile",
                "the project as it was read; nothing was changed",
                "Wait for the other program to end, then run again.",
            )
        renew_forms(connection, now)
        connection.execute(PROJECTS)
        if keep_as:
            connection.execute("UPDATE qgis_projects SET name = ? WHERE name = ?", (keep_as, name))
        connection.execute(
            "INSERT OR REPLACE INTO qgis_projects (name, metadata, content) VALUES (?, ?, ?)",
            (name, facts, content.hex()),
        )
