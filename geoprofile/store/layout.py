"""Tables of the site file from the schema: columns, rules, dictionary and spatial index."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from geoprofile.schema import TABLES, Column, Table
from geoprofile.schema.wording import explain, label
from geoprofile.store.connection import quoted

GEOMETRY, FID = "geom", "fid"
SQL_TYPES = {
    "text": "TEXT",
    "real": "REAL",
    "integer": "INTEGER",
    "boolean": "BOOLEAN",
    "datetime": "DATETIME",
    "date": "DATE",
}
# what typeof() says of a value that fits; this does the work of STRICT, which old readers refuse
STORED_AS = {
    "text": "'text'",
    "real": "'real','integer'",
    "integer": "'integer'",
    "boolean": "'integer'",
    "datetime": "'text'",
    "date": "'text'",
}
RTREE_DEFINITION = "http://www.geopackage.org/spec130/#extension_rtree"


def geometry_type(table: Table) -> str:
    """Upper-case geometry type without dimensions, "" for a table without geometry."""
    return (table.geometry or "").removesuffix("Z").upper()


def has_z(table: Table) -> bool:
    """Whether the geometry has elevations."""
    return (table.geometry or "").endswith("Z")


def table_sql(table: Table) -> str:
    """The CREATE TABLE statement of a table."""
    lines = [f"{FID} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if table.geometry:
        lines.append(f"{GEOMETRY} {geometry_type(table)}")
    lines += [_column_sql(column) for column in table.columns]
    if table.key and all(table.column(k).required for k in table.key):
        lines.append(f"UNIQUE ({', '.join(map(quoted, table.key))})")
    lines += [_reference_sql(c) for c in table.columns if c.references and _points_away(table, c)]
    body = ",\n  ".join(lines)
    return f"CREATE TABLE {quoted(table.name)} (\n  {body}\n)"


def index_sql(table: Table) -> Iterator[str]:
    """The indexes of a table: a key that may be empty in part, and columns that refer elsewhere."""
    if table.key and not all(table.column(k).required for k in table.key):
        parts = [
            quoted(k) if table.column(k).required else f"coalesce({quoted(k)}, '')"
            for k in table.key
        ]
        name = quoted(f"key_{table.name}")
        yield f"CREATE UNIQUE INDEX {name} ON {quoted(table.name)} ({', '.join(parts)})"
    if table.owner != "input":
        return
    for column in table.columns:
        if column.references and _points_away(table, column) and column.name != table.key[0]:
            name = quoted(f"by_{column.name}_of_{table.name}")
            yield f"CREATE INDEX {name} ON {quoted(table.name)} ({quoted(column.name)})"


def _points_away(table: Table, column: Column) -> bool:
    return not (column.references == table.name and table.key == (column.name,))


def _column_sql(column: Column) -> str:
    text = f"{quoted(column.name)} {SQL_TYPES[column.kind]}"
    if column.required:
        text += " NOT NULL"
    return f"{text} CHECK ({_rule_sql(column)})"


def _rule_sql(column: Column) -> str:
    name = quoted(column.name)
    rules = [f"typeof({name}) IN ({STORED_AS[column.kind]})"]
    if column.kind == "boolean":
        rules.append(f"{name} IN (0, 1)")
    if column.allowed:
        allowed = ", ".join("'" + text.replace("'", "''") + "'" for text in column.allowed)
        rules.append(f"{name} IN ({allowed})")
    for sign, limit in ((">=", column.low), (">", column.above), ("<=", column.high)):
        if limit is not None:
            rules.append(f"{name} {sign} {limit!r}")
    rule = " AND ".join(rules)
    return rule if column.required else f"{name} IS NULL OR ({rule})"


def _reference_sql(column: Column) -> str:
    other = TABLES[str(column.references)]
    return (
        f"FOREIGN KEY ({quoted(column.name)}) REFERENCES {quoted(other.name)} "
        f"({quoted(other.key[0])}) DEFERRABLE INITIALLY DEFERRED"
    )


def create_table(connection: sqlite3.Connection, table: Table, srs_id: int) -> None:
    """Create a table with its index, list it in the contents and describe its columns."""
    connection.execute(table_sql(table))
    for statement in index_sql(table):
        connection.execute(statement)
    list_table(connection, table, srs_id)
    if table.geometry:
        create_index(connection, table.name)
    describe_columns(connection, table)


def list_table(connection: sqlite3.Connection, table: Table, srs_id: int) -> None:
    """Name a table in the contents list, and its shapes in the list of geometry columns."""
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES (?, ?, ?, ?, ?)",
        (
            table.name,
            "features" if table.geometry else "attributes",
            table.title,
            table.description,
            srs_id if table.geometry else None,
        ),
    )
    if table.geometry:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, ?, 0)",
            (table.name, GEOMETRY, geometry_type(table), srs_id, int(has_z(table))),
        )


def unlist_table(connection: sqlite3.Connection, name: str) -> None:
    """Take a table of ours out of every list, to be listed anew."""
    for listing in ("gpkg_geometry_columns", "gpkg_contents"):
        connection.execute(f"DELETE FROM {listing} WHERE table_name = ?", (name,))
    connection.execute(
        "DELETE FROM gpkg_extensions WHERE table_name = ? AND extension_name = 'gpkg_rtree_index'",
        (name,),
    )


def drop_table(connection: sqlite3.Connection, name: str) -> None:
    """Drop a table with its spatial index, and take it out of every list."""
    connection.execute(f"DROP TABLE {quoted(name)}")
    connection.execute(f"DROP TABLE IF EXISTS {quoted(f'rtree_{name}_{GEOMETRY}')}")
    unlist_table(connection, name)


def create_index(connection: sqlite3.Connection, name: str) -> None:
    """Create the empty spatial index of a table and its triggers, and register it."""
    rtree = quoted(f"rtree_{name}_{GEOMETRY}")
    connection.execute(f"CREATE VIRTUAL TABLE {rtree} USING rtree(id, minx, maxx, miny, maxy)")
    connection.execute(
        "INSERT OR IGNORE INTO gpkg_extensions VALUES (?, ?, 'gpkg_rtree_index', ?, 'write-only')",
        (name, GEOMETRY, RTREE_DEFINITION),
    )
    for statement in trigger_sql(name).values():
        connection.execute(statement)


def trigger_sql(name: str, geometry: str = GEOMETRY, key: str = FID) -> dict[str, str]:
    """The statements that keep a spatial index in step with its table (the set of version 1.3)."""
    table, column, fid = quoted(name), quoted(geometry), quoted(key)
    stem = f"rtree_{name}_{geometry}"
    rtree = quoted(stem)
    full = f"NEW.{column} NOTNULL AND NOT ST_IsEmpty(NEW.{column})"
    bare = f"NEW.{column} ISNULL OR ST_IsEmpty(NEW.{column})"
    put = (
        f"INSERT OR REPLACE INTO {rtree} VALUES (NEW.{fid}, ST_MinX(NEW.{column}), "
        f"ST_MaxX(NEW.{column}), ST_MinY(NEW.{column}), ST_MaxY(NEW.{column}));"
    )
    drop_old = f"DELETE FROM {rtree} WHERE id = OLD.{fid};"
    drop_both = f"DELETE FROM {rtree} WHERE id IN (OLD.{fid}, NEW.{fid});"
    same, other = f"OLD.{fid} = NEW.{fid}", f"OLD.{fid} != NEW.{fid}"
    parts = {
        "insert": (f"AFTER INSERT ON {table}", f"({full})", put),
        "update1": (f"AFTER UPDATE OF {column} ON {table}", f"{same} AND ({full})", put),
        "update2": (f"AFTER UPDATE OF {column} ON {table}", f"{same} AND ({bare})", drop_old),
        "update3": (f"AFTER UPDATE ON {table}", f"{other} AND ({full})", f"{drop_old} {put}"),
        "update4": (f"AFTER UPDATE ON {table}", f"{other} AND ({bare})", drop_both),
        "delete": (f"AFTER DELETE ON {table}", f"OLD.{column} NOT NULL", drop_old),
    }
    return {
        f"{stem}_{part}": f"CREATE TRIGGER {quoted(f'{stem}_{part}')} {event} WHEN {when} "
        f"BEGIN {action} END"
        for part, (event, when, action) in parts.items()
    }


def describe_columns(connection: sqlite3.Connection, table: Table) -> None:
    """Write the data dictionary of a table: meaning with unit, and what each column may hold."""
    for column in table.columns:
        connection.execute(
            "INSERT OR REPLACE INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, NULL, ?)",
            (
                table.name,
                column.name,
                label(column),
                column.meaning,
                explain(column),
                _constrain(connection, table, column),
            ),
        )


def _constrain(connection: sqlite3.Connection, table: Table, column: Column) -> str | None:
    """Write the allowed words of a column; None for a column that has none.

    Limits of numbers stay in the table's own rules: for a range in the dictionary a desktop GIS
    shows a box of few decimals, and rounds what it shows when the row is saved.
    """
    name = f"{table.name}_{column.name}"
    connection.execute(
        "DELETE FROM gpkg_data_column_constraints WHERE constraint_name = ?", (name,)
    )
    if not column.allowed:
        return None
    connection.executemany(
        "INSERT INTO gpkg_data_column_constraints VALUES (?, 'enum', ?, NULL, NULL, NULL, NULL, "
        "NULL)",
        [(name, text) for text in column.allowed],
    )
    return name
