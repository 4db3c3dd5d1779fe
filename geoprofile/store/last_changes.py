"""When each table of a file was last changed, as its list of contents has it."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from pathlib import Path


def last_changes(file: Path) -> dict[str, str]:
    """The moment by table; none where the file cannot be read."""
    with suppress(sqlite3.Error):
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            rows = connection.execute("SELECT table_name, last_change FROM gpkg_contents")
            return {str(name): str(when) for name, when in rows}
    return {}
