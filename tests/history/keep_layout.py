"""Keeps a site file of the present layout for later versions: run once, when the layout is final.

    python tests/history/keep_layout.py

From then on the tests hold the schema to that layout until SCHEMA_VERSION is raised.
"""

from __future__ import annotations

import gzip
import sqlite3
import tempfile
from pathlib import Path

import small_yard

from geoprofile import app
from geoprofile.schema import SCHEMA_VERSION

FILES = Path(__file__).parent / "files"


def keep() -> Path:
    """Run the small site and pack its file; the file made."""
    target = FILES / f"site_layout_{SCHEMA_VERSION}.gpkg.gz"
    with tempfile.TemporaryDirectory() as place:
        folder = small_yard.write_yard(Path(place) / "yard")
        done = app.run(folder)
        with sqlite3.connect(done.database) as connection:
            connection.execute("VACUUM")
        connection.close()
        target.write_bytes(gzip.compress(done.database.read_bytes(), 9, mtime=0))
    return target


if __name__ == "__main__":
    print(keep())
