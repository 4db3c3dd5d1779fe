"""Bringing a site file of an older table layout up to date, on request and after a safety copy.

What an upgrade does: every table gets the columns and rules of the schema, field and system tables
that are missing are added, derived tables keep the rows that fit and are all computed again by the
next run, for `step` is emptied.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from geoprofile.errors import ChangedError, DamagedError
from geoprofile.schema import INPUT, SCHEMA_VERSION
from geoprofile.store import layout_1, layout_2
from geoprofile.store.connection import reading, telling, writing
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.opening import check_header, read_settings, settle
from geoprofile.store.reading import read_table
from geoprofile.store.rebuilding import bring_to_schema
from geoprofile.store.reference import site_reference
from geoprofile.store.repairing import restore_lists
from geoprofile.store.safety_copies import needed, safety_copy
from geoprofile.store.writing import refuse_foreign_sql

TRIES = 4  # while another program migrates or restores the same file
Step = Callable[[sqlite3.Connection], None]


def renew_fingerprints(connection: sqlite3.Connection) -> None:
    """From layout 1: fingerprints of loaded rows as they are taken now.

    That of a row which differs from its last load becomes unknown: the next load takes it for
    edited in the database, and tells both values.
    """
    from geoprofile.intake.row_fingerprints import UNKNOWN, fingerprint_rows

    layout_2.rename(connection)
    layout_2.rekey_criteria(connection)
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


# what a layout needs before its tables are made as in the schema
STEPS: Mapping[int, Step] = {
    1: renew_fingerprints,
    2: renew_names,
    3: layout_2.rekey_criteria,  # else columns and tables only joined
}


def migrate(
    path: str | Path,
    tell: Callable[[str], None] = lambda remark: None,
    *,
    steps: Mapping[int, Step] = STEPS,
    target: int = SCHEMA_VERSION,
) -> Path | None:
    """Bring a file up to date after a safety copy; the copy, or None when nothing was to be done.

    All is one transaction. DamagedError when the file is newer, or a step is missing; ChangedError
    when another program keeps bringing it to other layouts. `tell` is told of what lay beside the
    file and had to go.
    """
    check_header(Path(path))
    with telling(Path(path)):
        for remark in settle(Path(path)):
            tell(remark)
    for _ in range(TRIES - 1):
        with suppress(ChangedError):
            return _migrate_once(Path(path), steps, target)
    return _migrate_once(Path(path), steps, target)


def _migrate_once(path: Path, steps: Mapping[int, Step], target: int) -> Path | None:
    check_header(path)
    with reading(path) as connection:
        settings = read_settings(connection, path)
    version = settings.get("schema_version")
    if version == target:
        return None
    _refuse_unknown(path, version, steps, target)
    copy = safety_copy(path, "before-migration")
    with needed(copy, path), writing(path, rebuild=True) as connection:
        refuse_foreign_sql(connection)
        _refuse_other_layout(connection, path, version)
        _bring_up(connection, int(str(version)), steps, target)
    return copy


def _bring_up(
    connection: sqlite3.Connection, version: int, steps: Mapping[int, Step], target: int
) -> None:
    site = site_reference(str(read_settings(connection, Path("site")).get("crs", "")))
    for number in range(version, target):
        steps[number](connection)
    bring_to_schema(connection)
    restore_lists(connection, site)
    connection.execute("DELETE FROM step")
    connection.execute("UPDATE site SET value = ? WHERE name = 'schema_version'", (str(target),))


def _refuse_other_layout(connection: sqlite3.Connection, path: Path, seen: object) -> None:
    """ChangedError when another program has brought the file to another layout meanwhile."""
    found = read_settings(connection, path).get("schema_version")
    if found != seen:
        raise ChangedError(
            path.name,
            f"table layout {found}",
            f"layout {seen} as a moment ago; nothing was changed",
            "Another program has just migrated or restored it: look at it, then run again.",
        )


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
