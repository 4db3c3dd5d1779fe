"""Bringing a site file of an older table layout up to date, on request and after a safety copy.

What an upgrade does: every table gets the columns and rules of the schema, field and system tables
that are missing are added, derived tables keep the rows that fit and are all computed again by the
next run, for `step` is emptied.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from geoprofile.errors import DamagedError
from geoprofile.schema import INPUT, SCHEMA_VERSION
from geoprofile.store import layout_1, layout_2
from geoprofile.store.connection import reading, telling, writing
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.opening import check_header, read_settings, recover
from geoprofile.store.reading import read_table
from geoprofile.store.rebuilding import bring_to_schema
from geoprofile.store.reference import site_reference
from geoprofile.store.safety_copies import safety_copy
from geoprofile.store.writing import refuse_foreign_sql

Step = Callable[[sqlite3.Connection], None]


def renew_fingerprints(connection: sqlite3.Connection) -> None:
    """From layout 1: fingerprints of loaded rows as they are taken now.

    That of a row which differs from its last load becomes unknown: the next load takes it for
    edited in the database, and tells both values.
    """
    from geoprofile.intake.row_fingerprints import UNKNOWN, fingerprint_rows

    layout_2.rename(connection)
    crs = str(read_settings(connection, Path("site"))["crs"])
    for table in INPUT:
        present = columns_of(connection, table.name)
        frame = read_table(connection, table.name, crs)
        old, new = {}, {}
        if frame is not None and len(frame):
            known = {c.name for c in table.columns}
            old = layout_1.fingerprints(frame, table, [n for n in present if n in known])
            new = {str(k): str(v) for k, v in fingerprint_rows(frame, table.name).items()}
        rows = connection.execute(
            "SELECT row_key, fingerprint FROM loaded WHERE source_table = ?", (table.name,)
        ).fetchall()
        connection.executemany(
            "UPDATE loaded SET fingerprint = ? WHERE source_table = ? AND row_key = ?",
            [(new[k] if old.get(k) == p else UNKNOWN, table.name, k) for k, p in rows],
        )


def renew_names(connection: sqlite3.Connection) -> None:
    """From layout 2: tables, columns and methods under their present names."""
    layout_2.renew(connection, str(read_settings(connection, Path("site"))["crs"]))


def nothing_first(_connection: sqlite3.Connection) -> None:
    """From layout 3: bands got the number of their class, which the next run fills in."""


# what a layout needs before its tables are made as in the schema
STEPS: Mapping[int, Step] = {1: renew_fingerprints, 2: renew_names, 3: nothing_first}


def migrate(
    path: str | Path, *, steps: Mapping[int, Step] = STEPS, target: int = SCHEMA_VERSION
) -> Path | None:
    """Bring a file up to date after a safety copy; the copy, or None when nothing was to be done.

    All is one transaction. DamagedError when the file is newer, or a step is missing.
    """
    path = Path(path)
    check_header(path)
    with telling(path):
        recover(path)
    with reading(path) as connection:
        settings = read_settings(connection, path)
    version = settings.get("schema_version")
    if version == target:
        return None
    _refuse_unknown(path, version, steps, target)
    site = site_reference(str(settings.get("crs", "")))
    copy = safety_copy(path, "before-migration")
    with writing(path, rebuild=True) as connection:
        refuse_foreign_sql(connection)
        for number in range(int(str(version)), target):
            steps[number](connection)
        bring_to_schema(connection, site)
        connection.execute("DELETE FROM step")
        connection.execute(
            "UPDATE site SET value = ? WHERE name = 'schema_version'", (str(target),)
        )
    return copy


def _refuse_unknown(path: Path, version: object, steps: Mapping[int, Step], target: int) -> None:
    found = f"table layout {version}"
    if isinstance(version, int) and version > target:
        raise DamagedError(path.name, found, f"{target} or older", "Update geoprofile.")
    if not isinstance(version, int) or any(v not in steps for v in range(version, target)):
        raise DamagedError(
            path.name,
            found,
            f"a layout from which there are steps to {target}",
            "Use the geoprofile that made it.",
        )
