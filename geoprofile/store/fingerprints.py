"""SHA-256 of a table's content, without pandas: what makes a derived layer stale."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import hashlib
import marshal
import sqlite3
from collections.abc import Mapping, Sequence

from geoprofile.schema import INPUT, TABLES, Table
from geoprofile.store.connection import quoted
from geoprofile.store.layout import FID, GEOMETRY

CHUNK_ROWS = 20000
PLAIN_FORM = 2  # a fixed binary form; later ones depend on which objects happen to be shared


def fingerprint(connection: sqlite3.Connection, name: str) -> str:
    """Digest of the rows of a table in the order of their key.

    Left out are what says nothing about content: `fid`, `run`, and columns that the user added.
    A table that does not exist yet has the fingerprint of an empty one.
    """
    table, digest = TABLES[name], hashlib.sha256(name.encode())
    present = columns_of(connection, name)
    wanted = [c.name for c in table.columns if c.name in present]
    if table.owner == "derived":
        wanted = [c for c in wanted if c != "run"]
    if table.geometry and GEOMETRY in present:
        wanted.append(GEOMETRY)
    if wanted:
        order = ", ".join(map(quoted, table.key or (FID,)))
        cursor = connection.execute(
            f"SELECT {', '.join(map(quoted, wanted))} FROM {quoted(name)} ORDER BY {order}"
        )
        while rows := cursor.fetchmany(CHUNK_ROWS):
            digest.update(marshal.dumps(rows, PLAIN_FORM))
    return digest.hexdigest()


def fingerprint_of_fields(
    connection: sqlite3.Connection, known: Mapping[str, str] | None = None
) -> str:
    """One digest of all input tables, the user's own columns included.

    An edit in the GIS changes it, whatever the column. `known` are fingerprints already taken.
    """
    digest = hashlib.sha256()
    for table in INPUT:
        taken = (known or {}).get(table.name) or fingerprint(connection, table.name)
        digest.update(taken.encode())
        own = {c.name for c in table.columns} | {FID, GEOMETRY}
        users = [c for c in columns_of(connection, table.name) if c not in own]
        if users:
            listed = ", ".join(map(quoted, users))
            order = ", ".join(map(quoted, table.key))
            rows = connection.execute(
                f"SELECT {listed} FROM {quoted(table.name)} ORDER BY {order}"
            ).fetchall()
            digest.update(marshal.dumps((users, rows), PLAIN_FORM))
    return digest.hexdigest()


def rows_of(
    connection: sqlite3.Connection, name: str, columns: Sequence[str] | None
) -> list[tuple[object, ...]]:
    """Rows of a table in the order of their key; no rows for a table that does not exist yet."""
    present = columns_of(connection, name)
    if not present:
        return []
    table = TABLES[name]
    wanted = [c.name for c in table.columns] if columns is None else list(columns)
    listed = ", ".join(read_sql(table, c) if c in present else "NULL" for c in wanted)
    order = ", ".join(map(quoted, table.key or (FID,)))
    return connection.execute(f"SELECT {listed} FROM {quoted(name)} ORDER BY {order}").fetchall()


def read_sql(table: Table, name: str) -> str:
    """How a column is read: times without the milliseconds that are stored when they are zero."""
    kinds = {c.name: c.kind for c in table.columns}
    if kinds.get(name) == "datetime":
        return f"replace({quoted(name)}, '.000Z', 'Z')"
    return quoted(name)


def count_of(connection: sqlite3.Connection, name: str) -> int:
    """Rows of a table that exists."""
    return int(connection.execute(f"SELECT count(*) FROM {quoted(name)}").fetchone()[0])


def columns_of(connection: sqlite3.Connection, name: str) -> list[str]:
    """Columns of a real table in the file; none when there is no such table."""
    if (
        connection.execute(
            "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (name,)
        ).fetchone()
        is None
    ):
        return []
    return [row[1] for row in connection.execute(f"PRAGMA table_info({quoted(name)})")]
