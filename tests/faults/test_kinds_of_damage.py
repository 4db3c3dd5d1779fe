"""The kinds of damage that a GeoPackage can have beyond what is common: each is told by name."""

from __future__ import annotations

import contextlib
import sqlite3

import pytest

from geoprofile.errors import UsageError
from geoprofile.store import inspect
from geoprofile.store.connection import register_functions

LISTED = "INSERT INTO gpkg_contents(table_name, data_type) VALUES('{}', 'attributes')"
RELATED = (
    "CREATE TABLE gpkgext_relations(base_table_name, base_primary_column, related_table_name, "
    "related_primary_column, mapping_table_name); INSERT INTO gpkgext_relations "
    "VALUES('borehole', 'fid', 'test', 'fid', 'm')"
)
POINTS = (
    "CREATE VIEW v AS SELECT CAST(1 AS INTEGER) AS fid, geom FROM borehole; INSERT INTO "
    "gpkg_contents(table_name, data_type, srs_id) VALUES('v', 'features', 32631); "
    "INSERT INTO gpkg_geometry_columns VALUES('v', 'geom', 'POINT', 32631, 1, 0)"
)
TWO_SHAPES = (
    "CREATE TABLE g AS SELECT * FROM gpkg_geometry_columns; DROP TABLE gpkg_geometry_columns; "
    "ALTER TABLE g RENAME TO gpkg_geometry_columns; INSERT INTO gpkg_geometry_columns "
    "VALUES('area', 'geom2', 'POLYGON', 32631, 0, 0)"
)


def blob(start: int, content: str) -> str:
    """A statement that writes bytes into the blob of the area; places count from 1."""
    end = start + len(content) // 2
    return (
        f"UPDATE area SET geom = CAST(substr(geom, 1, {start - 1}) || x'{content}' || "
        f"substr(geom, {end}) AS BLOB)"
    )


# what is damaged, the statements that do it, and the code and severity of the finding
KINDS = [
    ("no reference systems", "DROP TABLE gpkg_spatial_ref_sys", "core table", "error"),
    ("no contents", "DROP TABLE gpkg_contents", "core table", "error"),
    (
        "contents without an edge",
        "ALTER TABLE gpkg_contents RENAME COLUMN max_x TO m",
        "core column",
        "error",
    ),
    (
        "systems without words",
        "ALTER TABLE gpkg_spatial_ref_sys RENAME COLUMN description TO d",
        "core column",
        "error",
    ),
    ("a quote in a column", 'ALTER TABLE test ADD COLUMN "a\'b" TEXT', "name", "error"),
    ("layers that differ in case", LISTED.format("TEST"), "name", "error"),
    ("two geometry columns", TWO_SHAPES, "geometry column", "error"),
    ("an unknown envelope", blob(4, "0b"), "blob", "error"),
    ("a shape marked empty", blob(4, "13"), "blob", "error"),
    ("an extended geometry", blob(4, "23"), "blob", "error"),
    ("a blob of a later version", blob(3, "07"), "blob", "error"),
    ("an unknown byte order", blob(41, "07"), "blob", "error"),
    ("flags of another dialect", blob(45, "a0"), "blob", "error"),
    (
        "bytes after the shape",
        "UPDATE area SET geom = CAST(geom || x'00' AS BLOB)",
        "blob",
        "error",
    ),
    (
        "a geometry column that is gone",
        "UPDATE gpkg_geometry_columns SET column_name = 'shape' WHERE table_name = 'area'",
        "blob",
        "error",
    ),
    ("a view that repeats ids", POINTS, "key", "error"),
    (
        "a wrong count",
        "CREATE TABLE gpkg_ogr_contents(table_name TEXT, feature_count INTEGER); "
        "INSERT INTO gpkg_ogr_contents VALUES('borehole', 99)",
        "count",
        "error",
    ),
    (
        "a table in the place of an index",
        "DROP TABLE rtree_area_geom; CREATE TABLE rtree_area_geom(id)",
        "index",
        "error",
    ),
    (
        "a relation to rows that are gone",
        f"CREATE TABLE m(base_id, related_id); INSERT INTO m VALUES(1, 77); {RELATED}",
        "relation",
        "error",
    ),
    ("a relation without ids", f"CREATE TABLE m(base_id, other); {RELATED}", "relation", "error"),
    (
        "a foreign key to no key",
        "PRAGMA writable_schema=ON; UPDATE sqlite_master SET sql = "
        "replace(sql, 'REFERENCES \"borehole\"', 'REFERENCES \"criterion\"') "
        "WHERE name = 'interval'",
        "unreadable",
        "error",
    ),
    (
        "an extension of a table that is gone",
        "INSERT INTO gpkg_extensions VALUES('gone', NULL, 'gpkg_x', 'x', 'read-write')",
        "extension",
        "error",
    ),
    ("a later version", "PRAGMA user_version=10400", "version", "warning"),
    (
        "a blank in a name",
        "CREATE TABLE 'a b'(fid INTEGER PRIMARY KEY); " + LISTED.format("a b"),
        "name",
        "warning",
    ),
    (
        "degrees in a system of metres",
        "UPDATE borehole SET x = 9, y = 50, geom = CAST(substr(geom, 1, 13) || "
        "x'00000000000022400000000000004940' || substr(geom, 30) AS BLOB)",
        "coordinates",
        "warning",
    ),
    (
        "metres in a system of degrees",
        "UPDATE gpkg_spatial_ref_sys SET definition = 'GEOGCS[\"x\"]', "
        "definition_12_063 = 'GEOGCRS[\"x\"]' WHERE srs_id = 32631",
        "coordinates",
        "error",
    ),
    ("a style that draws nothing", "UPDATE layer_styles SET styleQML = ''", "style", "warning"),
    (
        "a listed view that reaches out",
        "CREATE VIEW v AS SELECT 1 AS fid, load_extension('x') AS a; " + LISTED.format("v"),
        "view",
        "error",
    ),
    (
        "a view of a table that is gone",
        "CREATE VIEW v AS SELECT fid FROM nowhere; " + LISTED.format("v"),
        "view",
        "warning",
    ),
    (
        "a view without ids",
        "CREATE VIEW v AS SELECT borehole FROM borehole; " + LISTED.format("v"),
        "view",
        "warning",
    ),
    (
        "a trigger that poses as a counter",
        "CREATE TRIGGER trigger_insert_feature_count_test AFTER INSERT ON test "
        "BEGIN DELETE FROM result; END",
        "trigger",
        "error",
    ),
    (
        "a table of another engine",
        "CREATE VIRTUAL TABLE w USING fts5(a)",
        "virtual table",
        "warning",
    ),
]


def told(path, code: str, severity: str) -> None:
    """There is such a finding, and all findings say the first thing to do."""
    found = inspect(path)
    assert (code, severity) in {(f.code, f.severity) for f in found}, [str(f) for f in found]
    assert all(f.what and f.what_to_do for f in found)


@pytest.mark.parametrize(
    ("statements", "code", "severity"), [k[1:] for k in KINDS], ids=[k[0] for k in KINDS]
)
def test_each_kind_of_damage_is_told_by_name(copy, damage, statements, code, severity):
    """The finding has its code and severity, and says the first thing to do."""
    damage(copy.path, statements)
    told(copy.path, code, severity)


def overwrite(path, start: int, content: bytes) -> None:
    """Write bytes over the file."""
    with path.open("rb+") as file:
        file.seek(start)
        file.write(content)


@pytest.mark.parametrize("start", [16, 60, 100, 3000, 4096, 20 * 4096])
def test_broken_bytes_anywhere_are_told(copy, start):
    """Noise in the header, in the list of tables, or in a table."""
    overwrite(copy.path, start, b"\x5a" * 2000)
    assert any(f.severity == "error" for f in inspect(copy.path))


@pytest.mark.parametrize("share", [0.01, 0.5, 0.99])
def test_a_file_that_was_cut_off_is_told(copy, share):
    """A copy that ended early is an error, with the advice to take a whole one."""
    whole = copy.path.read_bytes()
    copy.path.write_bytes(whole[: int(len(whole) * share)])
    assert any(f.severity == "error" for f in inspect(copy.path))


@pytest.mark.parametrize(
    ("suffix", "code", "severity"),
    [("-journal", "sidecar", "warning"), ("-wal", "stranger", "error")],
)
def test_what_lies_beside_the_file_is_told(copy, suffix, code, severity):
    """A journal is told before anyone copies the file alone, and a log that is another file's."""
    copy.path.with_name(copy.path.name + suffix).write_bytes(b"x" * 600)
    told(copy.path, code, severity)


def test_an_index_that_lost_a_row_is_told(copy, damage):
    """An entry that is missing from an ordinary index is found by SQLite's own check."""
    damage(
        copy.path,
        "CREATE INDEX i ON test(kind); PRAGMA writable_schema=ON; "
        "DELETE FROM sqlite_master WHERE name = 'i'; PRAGMA writable_schema=OFF",
    )
    assert any(f.code == "pages" for f in inspect(copy.path))


def test_a_file_in_another_encoding_is_told(copy):
    """Texts in UTF-16, which some readers do not expect."""
    with contextlib.closing(sqlite3.connect(copy.path)) as source:
        lines = [line for line in source.iterdump() if "rtree" not in line]
    copy.path.unlink()
    with contextlib.closing(sqlite3.connect(copy.path, isolation_level=None)) as target:
        register_functions(target)
        for pragma in ("encoding='UTF-16'", "application_id=1196444487", "user_version=10300"):
            target.execute(f"PRAGMA {pragma}")
        target.executescript("PRAGMA writable_schema=ON;" + "\n".join(lines))
    told(copy.path, "encoding", "warning")


def test_a_folder_or_no_file_is_told(tmp_path):
    """What is not there is not damaged: a wrong word of the command, with what to do."""
    for path in (tmp_path, tmp_path / "nowhere.gpkg"):
        with pytest.raises(UsageError, match="no file"):
            inspect(path)
