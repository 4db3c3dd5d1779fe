"""Rows into tables inside a transaction: upsert by key, delete by key, replace as a whole."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from typing import Any

from geoprofile.errors import DamagedError
from geoprofile.schema import Table
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.layout import FID, GEOMETRY, create_table, drop_table, trigger_sql
from geoprofile.store.reference import SECTION
from geoprofile.store.rows import Rows

Row = tuple[Any, ...]


def ensure_table(connection: sqlite3.Connection, table: Table, srs_id: int) -> None:
    """Create the table where the file lacks it; DamagedError when a column of ours is gone.

    A derived table that lacks a column is made anew: all its rows are about to be written.
    """
    present = columns_of(connection, table.name)
    wanted = [FID, *(c.name for c in table.columns), *([GEOMETRY] if table.geometry else [])]
    gone = [c for c in wanted if c not in present]
    if gone and present and table.owner == "derived":
        drop_table(connection, table.name)
        present = []
    if not present:
        create_table(connection, table, SECTION.srs_id if table.plane == "section" else srs_id)
    elif gone:
        raise DamagedError(
            f"table {table.name}",
            f"no column {', '.join(gone)}",
            "every column of the schema",
            "Undo the change in the GIS, or put back a safety copy.",
        )


def replace(connection: sqlite3.Connection, table: Table, rows: Rows) -> None:
    """Put new rows in place of all rows, numbered from 1; the table itself stays, open GIS or not.

    The index is filled in one go: its triggers, one call per row, are set aside meanwhile.
    """
    name = quoted(table.name)
    triggers = trigger_sql(table.name) if table.geometry else {}
    for trigger in triggers:
        connection.execute(f"DROP TRIGGER IF EXISTS {quoted(trigger)}")
    connection.execute(f"DELETE FROM {name}")
    numbered = ((fid, *row) for fid, row in enumerate(rows.values, start=1))
    insert(connection, table, (FID, *rows.columns), numbered)
    if rows.boxes is not None:
        fill_index(connection, table.name, rows.boxes.tolist())
    for statement in triggers.values():
        connection.execute(statement)


def fill_index(connection: sqlite3.Connection, name: str, boxes: Sequence[Sequence[float]]) -> None:
    """Write the boxes of rows 1, 2, ... into the emptied spatial index; NaN boxes are left out."""
    rtree = quoted(f"rtree_{name}_{GEOMETRY}")
    connection.execute(f"DELETE FROM {rtree}")
    connection.executemany(
        f"INSERT INTO {rtree} VALUES (?, ?, ?, ?, ?)",
        ((fid, *box) for fid, box in enumerate(boxes, start=1) if box[0] == box[0]),
    )


def insert(
    connection: sqlite3.Connection, table: Table, columns: Sequence[str], rows: Iterable[Row]
) -> None:
    """Add rows."""
    marks = ", ".join("?" * len(columns))
    listed = ", ".join(map(quoted, columns))
    connection.executemany(f"INSERT INTO {quoted(table.name)} ({listed}) VALUES ({marks})", rows)


def upsert(connection: sqlite3.Connection, table: Table, rows: Rows) -> None:
    """Update rows whose key exists, insert the others, and drop what a batch no longer has."""
    add_columns(connection, table, rows.added)
    places = [rows.columns.index(k) for k in table.key]
    known = _batch_keys(connection, table, rows) if table.batch else _all_keys(connection, table)
    changed, fresh = [], []
    for row in rows.values:
        fid = known.pop(tuple(row[p] for p in places), None)
        if fid is None:
            fresh.append(row)
        else:
            changed.append((*row, fid))
    if table.batch:
        gone = [(fid,) for fid in known.values()]
        connection.executemany(f"DELETE FROM {quoted(table.name)} WHERE {FID} = ?", gone)
    update(connection, table, rows.columns, changed)
    insert(connection, table, rows.columns, fresh)


def update(
    connection: sqlite3.Connection, table: Table, columns: Sequence[str], rows: Sequence[Row]
) -> None:
    """Set columns of rows; each row ends with its fid."""
    if not rows:
        return
    sets = ", ".join(f"{quoted(c)} = ?" for c in columns)
    connection.executemany(f"UPDATE {quoted(table.name)} SET {sets} WHERE {FID} = ?", rows)


def _all_keys(connection: sqlite3.Connection, table: Table) -> dict[Row, int]:
    listed = ", ".join(map(quoted, table.key))
    found = connection.execute(f"SELECT {listed}, {FID} FROM {quoted(table.name)}")
    return {row[:-1]: row[-1] for row in found}


def _batch_keys(connection: sqlite3.Connection, table: Table, rows: Rows) -> dict[Row, int]:
    listed = ", ".join(map(quoted, table.key))
    place = rows.columns.index(table.batch)
    sql = f"SELECT {listed}, {FID} FROM {quoted(table.name)} WHERE {quoted(table.batch)} = ?"
    found: dict[Row, int] = {}
    for batch in dict.fromkeys(row[place] for row in rows.values):
        found.update((row[:-1], row[-1]) for row in connection.execute(sql, (batch,)))
    return found


def delete(connection: sqlite3.Connection, table: Table, keys: Iterable[Row]) -> None:
    """Delete rows by key; a shorter key deletes every row that begins with it."""
    for key in keys:
        where = " AND ".join(f"{quoted(c)} IS ?" for c in table.key[: len(key)])
        connection.execute(f"DELETE FROM {quoted(table.name)} WHERE {where}", key)


def add_columns(connection: sqlite3.Connection, table: Table, added: dict[str, str]) -> None:
    """Add the user's own columns that the table lacks."""
    present = columns_of(connection, table.name)
    for name, kind in added.items():
        if name not in present:
            connection.execute(f"ALTER TABLE {quoted(table.name)} ADD COLUMN {quoted(name)} {kind}")


def extent_of(connection: sqlite3.Connection, name: str) -> tuple[float, ...] | None:
    """(min x, min y, max x, max y) of the geometries of a table; None without any."""
    edges = ", ".join(
        f"{best}(ST_{best.title()}{axis}({GEOMETRY}))" for best in ("min", "max") for axis in "XY"
    )
    row = connection.execute(f"SELECT {edges} FROM {quoted(name)}").fetchone()
    return None if row[0] is None else tuple(map(float, row))


def touch(
    connection: sqlite3.Connection, table: Table, extent: tuple[float, ...] | None, now: str
) -> int:
    """Bring the contents list up to date with the rows of a table; the number of rows.

    A GIS trusts the extent listed there, and hides what lies outside it.
    """
    rows = int(connection.execute(f"SELECT count(*) FROM {quoted(table.name)}").fetchone()[0])
    box = extent or (None, None, None, None)
    connection.execute(
        "UPDATE gpkg_contents SET last_change = ?, min_x = ?, min_y = ?, max_x = ?, max_y = ? "
        "WHERE table_name = ?",
        (now, *box, table.name),
    )
    if columns_of(connection, "gpkg_ogr_contents"):
        connection.execute(
            "UPDATE gpkg_ogr_contents SET feature_count = ? WHERE table_name = ?",
            (rows, table.name),
        )
    return rows
