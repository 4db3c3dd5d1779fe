"""Checks of the file itself: kind, version, sidecars, pages, references, core tables."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from geoprofile.store.connection import has_sidecar, quoted
from geoprofile.store.core import APPLICATION_ID, CORE_TABLES, USER_VERSION
from geoprofile.store.findings import (
    REPAIR,
    RESTORE,
    Finding,
    Layer,
    Look,
    columns,
    error,
    warning,
)
from geoprofile.store.opening import SQLITE_MAGIC
from geoprofile.store.shared_places import advice, notices
from geoprofile.store.sidecars import strangers

# ruff: noqa: S608 - names pass through quoted(), values are parameters

GPKG_TYPE = re.compile(
    r"^(BOOLEAN|TINYINT|SMALLINT|MEDIUMINT|INT|INTEGER|FLOAT|DOUBLE|REAL|DATE|DATETIME|"
    r"TEXT(\s*\(\s*\d+\s*\))?|BLOB(\s*\(\s*\d+\s*\))?)$"
)
OWN_PREFIX = re.compile(r"^(gpkg_|gpkgext_|rtree_|sqlite_|qgis_)")
MOMENT = re.compile(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,9})?)?Z$")
NEWER = "Nothing needs doing; older GIS software may say that it reads only part of it."
PLAIN_NAME = re.compile(r"^[A-Za-z_][A-Za-z0-9_]*$")
BAD_NAME = re.compile(r"[\x00-\x1f\"'`;|]")
CORE_COLUMNS = {
    "gpkg_spatial_ref_sys": "srs_name srs_id organization organization_coordsys_id definition "
    "description",
    "gpkg_contents": "table_name data_type identifier description last_change min_x min_y max_x "
    "max_y srs_id",
    "gpkg_geometry_columns": "table_name column_name geometry_type_name srs_id z m",
    "gpkg_extensions": "table_name column_name extension_name definition scope",
}


def check_bytes(path: Path) -> Iterator[Finding]:
    """Kind of file, version and what lies beside it."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as fault:
        yield error("file", path.name, f"it cannot be read ({fault})", "Check name and rights.")
        return
    if len(head) < 100 or head[:16] != SQLITE_MAGIC:
        yield error("file", path.name, "it is no GeoPackage", RESTORE)
        return
    for notice in (*notices(path), *advice(path)):
        yield warning("place", path.name, notice.what, notice.what_to_do)
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        yield error("application", path.name, "the application number is not GPKG", RESTORE)
    version = int.from_bytes(head[60:64], "big")
    if version < 10200:
        yield error("version", path.name, f"GeoPackage version {version}", RESTORE)
    elif version > USER_VERSION:
        yield warning(
            "version", path.name, f"GeoPackage version {version} is newer than 1.3", NEWER
        )
    if 2 in (head[18], head[19]):
        yield warning(
            "wal",
            path.name,
            "new rows are kept beside the file; a copy of it alone may lack them",
            "Close the GIS that edits it, then run any geoprofile command.",
        )
    foreign = [s for s in strangers(path) if has_sidecar(path, s)]
    for suffix in foreign:
        yield error(
            "stranger",
            path.name + suffix,
            "a stopped program left it, and it belongs to another file: a GIS would mix the two",
            "Run 'geoprofile show', which moves it aside, before anything opens the file.",
        )
    for suffix in ("-journal", "-wal"):
        if suffix not in foreign and has_sidecar(path, suffix):
            yield warning(
                "sidecar",
                path.name + suffix,
                "a program is writing, or was interrupted",
                "Do not copy or rename the file alone; close the GIS, or open the site once.",
            )


def check_pages(connection: sqlite3.Connection) -> Iterator[Finding]:
    """Pages and indexes, references between tables, encoding."""
    for (fault,) in connection.execute("PRAGMA integrity_check(20)"):
        if fault != "ok":
            what = " ".join(str(fault).split())[:200]
            # an index can be built anew from its table; a broken page cannot
            repairable = "index" in what and "Tree" not in what
            yield error("pages", "file", what, REPAIR if repairable else RESTORE)
    for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        yield error(
            "reference",
            f"table {table}",
            f"row {row} names something that table {parent} does not have",
            "Add it there, or correct or delete the row in the GIS.",
        )
    encoding = connection.execute("PRAGMA encoding").fetchone()[0]
    if encoding != "UTF-8":
        yield warning("encoding", "file", f"texts are stored as {encoding}", RESTORE)


def look_at(connection: sqlite3.Connection) -> Look:
    """What the file lists, as far as its core tables can be read."""
    kinds: dict[str, dict[str, tuple[str, str]]] = {"table": {}, "view": {}, "trigger": {}}
    for kind, name, table, sql in connection.execute(
        "SELECT type, name, tbl_name, sql FROM sqlite_master"
    ):
        kinds.setdefault(kind, {})[name] = (table, sql or "")
    look = Look(
        {n: sql for n, (_, sql) in kinds["table"].items()},
        {n: sql for n, (_, sql) in kinds["view"].items()},
        kinds["trigger"],
    )
    for table, wanted in CORE_COLUMNS.items():
        present = {c[0] for c in columns(connection, table)}
        if set(wanted.split()) <= present:
            _fill(connection, look, table, present)
    return look


def _fill(connection: sqlite3.Connection, look: Look, table: str, present: set[str]) -> None:
    if table == "gpkg_contents":
        for row in connection.execute(
            "SELECT table_name, data_type, last_change, min_x, min_y, max_x, max_y, srs_id "
            "FROM gpkg_contents"
        ):
            look.layers[row[0]] = Layer(row[0], row[1], str(row[2]), row[3:7], row[7])
    elif table == "gpkg_spatial_ref_sys":
        wkt2 = "definition_12_063" if "definition_12_063" in present else "NULL"
        for row in connection.execute(
            f"SELECT srs_id, srs_name, definition, {wkt2} FROM gpkg_spatial_ref_sys"
        ):
            look.systems[row[0]] = (str(row[1]), _wkt(row[2]), _wkt(row[3]))
    elif table == "gpkg_extensions":
        look.extensions.extend(
            connection.execute(
                "SELECT table_name, column_name, extension_name, scope FROM gpkg_extensions"
            )
        )
    else:
        look.geometry.extend(
            connection.execute(
                "SELECT table_name, column_name, geometry_type_name, srs_id, z, m "
                "FROM gpkg_geometry_columns"
            )
        )


def _wkt(text: object) -> str:
    return "" if text in (None, "", "undefined") else str(text)


def check_core(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Required tables, columns and reference systems; extensions and contents point at things."""
    for table, wanted in CORE_COLUMNS.items():
        present = {c[0] for c in columns(connection, table)}
        if not present:
            yield error("core table", table, "a required table is missing", REPAIR)
        for column in sorted(set(wanted.split()) - present) if present else ():
            yield error("core column", table, f"column {column} is missing", RESTORE)
    yield from _check_systems(connection, look)
    for name, _, extension, scope in look.extensions:
        if name and not look.has(name):
            yield error("extension", extension, f"it names the missing table {name}", REPAIR)
        if scope not in ("read-write", "write-only"):
            yield error("extension", extension, f"its scope is '{scope}'", REPAIR)
    for layer in look.layers.values():
        yield from _check_listed(look, layer)


def _check_systems(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    place = "gpkg_spatial_ref_sys"
    for required in (-1, 0, 4326):
        if required not in look.systems:
            yield error("system", place, f"the required system {required} is missing", REPAIR)
    for number, (name, wkt1, wkt2) in look.systems.items():
        if number > 0 and not wkt1 and not wkt2:
            yield error("system", place, f"system {number} ({name}) has no definition", REPAIR)
        elif number > 0 and not wkt1:
            yield warning("system", place, f"system {number} has no text old readers know", REPAIR)
    uses = any(c[0] == "definition_12_063" for c in columns(connection, place))
    if uses and not any(str(e[2]).startswith("gpkg_crs_wkt") for e in look.extensions):
        yield error("extension", "gpkg_crs_wkt", "it is used but not registered", REPAIR)


def _check_listed(look: Look, layer: Layer) -> Iterator[Finding]:
    place = f"table {layer.name}"
    if not look.has(layer.name):
        yield error("contents", place, "it is listed, but there is no such table", REPAIR)
    if layer.srs_id is not None and layer.srs_id not in look.systems:
        yield error("system", place, f"its reference system {layer.srs_id} is not there", REPAIR)
    if not MOMENT.match(layer.last_change):
        yield warning("moment", place, f"last change '{layer.last_change}' is no time", REPAIR)


def check_names(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Names and types that break a GIS or SQL, and tables that a GIS cannot find."""
    core = {sql.split()[2] for sql in CORE_TABLES}
    mapping = set()
    if "gpkgext_relations" in look.tables:
        mapping = {
            r[0] for r in connection.execute("SELECT mapping_table_name FROM gpkgext_relations")
        }
    for name in sorted({*look.tables, *look.views} - core - mapping - set(look.layers)):
        if not OWN_PREFIX.match(name):
            yield warning("unlisted", f"table {name}", "a GIS may not show it", REPAIR)
    yield from _case_clashes("gpkg_contents", list(look.layers))
    geometry = {(g[0], g[1]) for g in look.geometry}
    for name in look.layers:
        yield from _check_name(name)
        found = columns(connection, name)
        yield from _case_clashes(f"table {name}", [c[0] for c in found])
        for column, kind, _, _ in found:
            if BAD_NAME.search(column):
                yield error("name", f"table {name}", f"the column name {column!r}", IN_FILE)
            is_shape = (name, column) in geometry
            if name in look.tables and not is_shape and kind and not GPKG_TYPE.match(kind):
                yield error("type", f"table {name}", f"column {column} is a {kind}", IN_FILE)


IN_FILE = "Rename it, or rebuild the column in the GIS."


def _check_name(name: str) -> Iterator[Finding]:
    if BAD_NAME.search(name):
        yield error("name", f"table {name!r}", "a GIS cannot open a layer so named", IN_FILE)
    elif not PLAIN_NAME.match(name):
        yield warning("name", f"table {name}", "its name is not of letters, digits and _", IN_FILE)
    elif OWN_PREFIX.match(name) and not name.startswith("qgis_"):
        yield error("name", f"table {name}", "its name begins as a system table's", IN_FILE)


def _case_clashes(place: str, names: list[str]) -> Iterator[Finding]:
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(name.lower(), []).append(name)
    for group in groups.values():
        if len(group) > 1:
            yield error("name", place, f"{' and '.join(group)} differ only in case", IN_FILE)


def check_counts(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """The feature counter that some readers keep."""
    if "gpkg_ogr_contents" not in look.tables:
        return
    for name, count in connection.execute(
        "SELECT table_name, feature_count FROM gpkg_ogr_contents"
    ).fetchall():
        if not look.has(name):
            yield error("count", f"table {name}", "counted, but there is no such table", REPAIR)
            continue
        rows = connection.execute(f"SELECT count(*) FROM {quoted(name)}").fetchone()[0]
        if count is not None and rows != count:
            yield error("count", f"table {name}", f"counted {count}, holds {rows} rows", REPAIR)
