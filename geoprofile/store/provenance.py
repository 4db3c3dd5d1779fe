"""Where a derived layer comes from, kept in the file as metadata of the layer."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from geoprofile import __version__
from geoprofile.store.rows import to_json

if TYPE_CHECKING:
    from geoprofile.store.changes import Changes

STANDARD = "urn:geoprofile:provenance"


def describe_origin(
    connection: sqlite3.Connection, table: str, changes: Changes, run: int, now: str
) -> None:
    """Write command, settings, inputs and version of a derived layer as JSON."""
    text = to_json(
        {
            "program": "geoprofile",
            "version": __version__,
            "command": changes.command,
            "run": run,
            "settings": dict(changes.settings),
            "inputs": dict(changes.inputs),
            "started_at": changes.started_at or now,
            "ended_at": now,
        }
    )
    found = connection.execute(
        "SELECT id FROM gpkg_metadata JOIN gpkg_metadata_reference ON md_file_id = id "
        "WHERE table_name = ? AND md_standard_uri = ?",
        (table, STANDARD),
    ).fetchone()
    if found is not None:
        connection.execute("UPDATE gpkg_metadata SET metadata = ? WHERE id = ?", (text, found[0]))
        connection.execute(
            "UPDATE gpkg_metadata_reference SET timestamp = ? WHERE md_file_id = ?",
            (now, found[0]),
        )
        return
    cursor = connection.execute(
        "INSERT INTO gpkg_metadata (md_scope, md_standard_uri, mime_type, metadata) "
        "VALUES ('dataset', ?, 'application/json', ?)",
        (STANDARD, text),
    )
    connection.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, table_name, timestamp, md_file_id) "
        "VALUES ('table', ?, ?, ?)",
        (table, now, cursor.lastrowid),
    )
