"""Tables of an older layout into that of the schema: rows, numbers and the user's columns stay."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import sqlite3

from geoprofile.errors import DamagedError
from geoprofile.schema import DERIVED, INPUT, SYSTEM, Table
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.layout import GEOMETRY, index_sql, table_sql


def bring_to_schema(connection: sqlite3.Connection) -> None:
    """Make every table that is there as the schema has it.

    Those that are missing are left for `repairing.restore_lists`, and derived ones for the command
    that computes them.
    """
    for table in (*SYSTEM, *INPUT, *DERIVED):
        if columns_of(connection, table.name) and not _is_as_in_schema(connection, table):
            _rebuild(connection, table)


def _is_as_in_schema(connection: sqlite3.Connection, table: Table) -> bool:
    found = connection.execute(
        "SELECT sql FROM sqlite_master WHERE type = 'table' AND name = ?", (table.name,)
    ).fetchone()
    return bool(found[0] == table_sql(table))


def _rebuild(connection: sqlite3.Connection, table: Table) -> None:
    """Build the table anew beside the old one, copy the rows, and let it take its place."""
    others = _indexes_and_triggers(connection, table)
    beside = f"new_{table.name}"
    sql = table_sql(table).replace(quoted(table.name), quoted(beside), 1)
    connection.execute(sql)
    columns = _kept_columns(connection, table, beside)
    listed = ", ".join(map(quoted, columns))
    try:
        connection.execute(
            f"INSERT INTO {quoted(beside)} ({listed}) SELECT {listed} FROM {quoted(table.name)}"
        )
    except sqlite3.IntegrityError as error:
        if table.owner != "derived":  # derived rows are computed again, the others exist only here
            raise _unfit(table, error) from error
    connection.execute(f"DROP TABLE {quoted(table.name)}")
    connection.execute(f"ALTER TABLE {quoted(beside)} RENAME TO {quoted(table.name)}")
    for statement in (*index_sql(table), *others):
        connection.execute(statement)


def _unfit(table: Table, error: sqlite3.Error) -> DamagedError:
    return DamagedError(
        f"table {table.name}",
        f"a row that the present layout does not allow ({error})",
        "rows that obey the schema; nothing was changed",
        "Correct the row in the GIS, or with the geoprofile that made the file, and migrate again.",
    )


def _kept_columns(connection: sqlite3.Connection, table: Table, beside: str) -> list[str]:
    """Columns to copy; those that the user added to an input table are added to the new one."""
    new = columns_of(connection, beside)
    kept = []
    for row in connection.execute(f"PRAGMA table_info({quoted(table.name)})").fetchall():
        name, kind = str(row[1]), str(row[2])
        if name not in new:
            if table.owner != "input":
                continue
            connection.execute(
                f"ALTER TABLE {quoted(beside)} ADD COLUMN {quoted(name)} {quoted(kind)}"
                if kind
                else f"ALTER TABLE {quoted(beside)} ADD COLUMN {quoted(name)}"
            )
        kept.append(name)
    return kept


def _indexes_and_triggers(connection: sqlite3.Connection, table: Table) -> list[str]:
    """The statements of what a GIS or the user hung on the table, for they go with it."""
    ours = (f"rtree_{table.name}_{GEOMETRY}_", f"key_{table.name}", "by_")
    return [
        str(sql)
        for name, sql in connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE tbl_name = ? AND sql NOTNULL "
            "AND type IN ('index', 'trigger')",
            (table.name,),
        )
        if not str(name).startswith(ours)
    ]
