"""From layout 2 to 3: tables, columns and methods take the names of the trade.

Rows stay as they are. The fingerprint of a loaded row counts the names of its columns, so those
whose names changed are taken again, where the row is as it was last loaded.
"""

# ruff: noqa: S608 - names are those of `schema.renamed`, values are parameters

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace

from geoprofile.schema import TABLES, Table, renamed
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import columns_of
from geoprofile.store.reading import read_table

LISTS = (  # where the name of a table stands: table and column
    ("gpkg_contents", "table_name"),
    ("gpkg_data_columns", "table_name"),
    ("gpkg_metadata_reference", "table_name"),
    ("layer_styles", "f_table_name"),
    ("loaded", "source_table"),
    ("source_file", "source_table"),
    ("finding", "source_table"),
    ("finding", "step"),
)


def rename(connection: sqlite3.Connection) -> None:
    """Give tables and columns their present names; what bears them already is left."""
    for old, new in renamed.TABLES.items():
        if not columns_of(connection, old) or columns_of(connection, new):
            continue
        connection.execute(f"DROP INDEX IF EXISTS {quoted(f'key_{old}')}")
        connection.execute(f"ALTER TABLE {quoted(old)} RENAME TO {quoted(new)}")
        for table, column in LISTS:
            if columns_of(connection, table):
                connection.execute(
                    f"UPDATE {quoted(table)} SET {quoted(column)} = ? WHERE {quoted(column)} = ?",
                    (new, old),
                )
    for table, names in renamed.COLUMNS.items():
        present = columns_of(connection, table)
        for old, new in names.items():
            if old in present and new not in present:
                connection.execute(
                    f"ALTER TABLE {quoted(table)} RENAME COLUMN {quoted(old)} TO {quoted(new)}"
                )


def rekey_criteria(connection: sqlite3.Connection) -> None:
    """The key of a criterion holds its medium, which is empty in files of before."""
    table = ("criterion",)
    rows = connection.execute("SELECT row_key FROM loaded WHERE source_table = ?", table).fetchall()
    connection.executemany(
        "UPDATE loaded SET row_key = ? WHERE source_table = 'criterion' AND row_key = ?",
        [
            (json.dumps([key, None], ensure_ascii=False), key)
            for (key,) in rows
            if not key.startswith("[")
        ],
    )


def rename_methods(connection: sqlite3.Connection) -> None:
    """Give the methods that the user fixed their present names."""
    if "method" in columns_of(connection, "test"):
        connection.executemany(
            "UPDATE test SET method = ? WHERE method = ?",
            [(new, old) for old, new in renamed.METHODS.items()],
        )


def rename_settings(connection: sqlite3.Connection) -> None:
    """Give the settings that the file keeps their present names."""
    for old, new in renamed.SETTINGS.items():
        row = connection.execute("SELECT value FROM site WHERE name = ?", (old,)).fetchone()
        if row is not None:
            names = renamed.SETTING_NAMES.get(new, {})
            value = {names.get(k, k): v for k, v in json.loads(row[0]).items()}
            connection.execute(
                "UPDATE site SET name = ?, value = ? WHERE name = ?", (new, json.dumps(value), old)
            )


def renew(connection: sqlite3.Connection, crs: str) -> None:
    """Rename, and take the fingerprints of loaded rows again where names count in them."""
    rename(connection)
    tables = ("pressure_step", "packer", "test")
    before = {name: _fingerprints(connection, name, crs, old=True) for name in tables}
    rename_methods(connection)
    rename_settings(connection)
    for name in tables:
        _renew(connection, name, before[name], _fingerprints(connection, name, crs, old=False))


def _fingerprints(
    connection: sqlite3.Connection, name: str, crs: str, *, old: bool
) -> list[dict[str, str]]:
    """Digests by row key, without and with the columns that the user added."""
    from geoprofile.intake.row_fingerprints import fingerprint_as

    frame = read_table(connection, name, crs)
    if frame is None or not len(frame):
        return [{}, {}]
    table = TABLES[name]
    extra = [c for c in frame.columns if c not in {k.name for k in table.columns} | {"geometry"}]
    if old:
        back = {new: was for was, new in renamed.COLUMNS.get(name, {}).items()}
        table = _named(table, back)
        frame = frame.rename(columns=back)
    return [
        {str(k): str(v) for k, v in fingerprint_as(frame, table, added).items()}
        for added in ((), tuple(extra))
    ]


def _named(table: Table, names: dict[str, str]) -> Table:
    """The table with some columns under other names."""
    columns = tuple(replace(c, name=names.get(c.name, c.name)) for c in table.columns)
    return replace(table, columns=columns)


def _renew(
    connection: sqlite3.Connection, name: str, old: list[dict[str, str]], new: list[dict[str, str]]
) -> None:
    rows = connection.execute(
        "SELECT row_key, fingerprint FROM loaded WHERE source_table = ?", (name,)
    ).fetchall()
    for key, stored in rows:
        for was, now in zip(old, new, strict=True):
            if was.get(key) == stored:
                connection.execute(
                    "UPDATE loaded SET fingerprint = ? WHERE source_table = ? AND row_key = ?",
                    (now[key], name, key),
                )
                break
