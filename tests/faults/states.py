"""What a site file holds, as plain SQLite sees it, and changes that give a command work to do."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from pathlib import Path

Digests = dict[str, str]
# when something was done is no content, and differs from run to run
MOMENTS = {"last_change", "started_at", "ended_at", "timestamp", "update_time", "metadata"}
NO_ROWS = hashlib.sha256(b"").hexdigest()
KEPT_MOMENTS = {"test"}  # where it is a measurement


def nothing(folder: Path) -> None:
    """The site as it was computed."""


def more_tables(folder: Path) -> None:
    """Another borehole, another result and other settings."""
    with (folder / "boreholes.csv").open("a") as file:
        file.write("A9,500070,5300060,99,25\n")
    text = (folder / "results.csv").read_text()
    (folder / "results.csv").write_text(text.replace("SA1-1,TCE,", "SA1-1,TCE,1"))


def corrupt(folder: Path) -> None:
    """A spatial index without entries, an extent and a style that are wrong."""
    connection = sqlite3.connect(folder / "site.gpkg")
    connection.execute("DELETE FROM rtree_borehole_geom")
    connection.execute("UPDATE gpkg_contents SET max_x = min_x WHERE table_name = 'area'")
    connection.execute("DELETE FROM layer_styles WHERE f_table_name = 'borehole'")
    connection.commit()
    connection.close()


def emptied(folder: Path) -> None:
    """Readings and results deleted, with a copy from before."""
    shutil.copy(folder / "site.gpkg", folder / "kept.gpkg")
    connection = sqlite3.connect(folder / "site.gpkg")
    connection.execute("DELETE FROM reading")
    connection.execute("DELETE FROM result")
    connection.commit()
    connection.close()


def without_project(folder: Path) -> None:
    """The project of the GIS is gone, inside the site file and beside it."""
    (folder / "site.qgz").unlink()
    connection = sqlite3.connect(folder / "site.gpkg")
    connection.execute("DELETE FROM qgis_projects")
    connection.commit()
    connection.close()


def digests(path: Path) -> Digests:
    """SHA-256 of every table as plain SQLite reads it; the path may not be there."""
    if not path.exists():
        return {}
    connection = sqlite3.connect(path)
    try:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        names = [n for (n,) in found.fetchall() if not n.endswith(("_node", "_parent", "_rowid"))]
        return {name: _digest(connection, name) for name in names}
    finally:
        connection.close()


def _digest(connection: sqlite3.Connection, name: str) -> str:
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
    dropped = set() if name in KEPT_MOMENTS else MOMENTS
    kept = ", ".join(f'"{c}"' for c in columns if c not in dropped)
    rows = sorted(map(repr, connection.execute(f"SELECT {kept} FROM {name}")))
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()
