"""SQL that a file brings runs only if it is, word by word, what we or GDAL write for that table."""

from __future__ import annotations

import contextlib
import sqlite3
import time

import geopandas as gpd
import pyogrio
import pytest
import shapely

from geoprofile.errors import DamagedError
from geoprofile.store import Changes, inspect
from geoprofile.store import connection as connection_module
from geoprofile.store.foreign import foreign_sql, is_known_trigger, words
from geoprofile.store.layout import trigger_sql

INSERT = trigger_sql("borehole")["rtree_borehole_geom_insert"]
ENDLESS = (
    "(WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT count(*) FROM n) > 0"
)


def known(sql: str, table: str = "borehole") -> bool:
    """Whether a trigger of that table passes."""
    return is_known_trigger(sql, table, ["geom"], "fid")


def test_our_triggers_are_known_and_others_are_not():
    """Spatial index triggers pass; anything else in their clothes does not."""
    assert all(known(sql) for sql in trigger_sql("borehole").values())
    assert known(INSERT.lower().replace(" ", "\n "))
    assert not known(INSERT.replace(" END", " DELETE FROM result; END"))
    assert not known(INSERT, "run")
    assert not known(INSERT.replace("VALUES", "SELECT"))
    assert not known("CREATE TRIGGER t AFTER INSERT ON a BEGIN SELECT 1; END")


@pytest.mark.parametrize("driver", ["fiona", "pyogrio"])
def test_a_layer_that_gdal_adds_passes(store, driver):
    """GDAL 3.9 and 3.12 write other sets of triggers; a blank in the name changes nothing."""
    frame = gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(1, 2)], crs="EPSG:32631")
    if driver == "fiona":
        frame.to_file(store.path, layer="own layer", driver="GPKG", engine="fiona")
    else:
        pyogrio.write_dataframe(frame, store.path, layer="own layer", driver="GPKG")
    with contextlib.closing(sqlite3.connect(store.path)) as connection:
        assert (
            connection.execute(
                "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND "
                "tbl_name = 'own layer'"
            ).fetchone()[0]
            >= 6
        )
        assert foreign_sql(connection) == []


HOSTILE = {
    "an index emptied by a run": (
        "CREATE TRIGGER rtree_borehole_geom_update5 AFTER INSERT ON run BEGIN DELETE FROM "
        '"rtree_borehole_geom" WHERE id = NEW."run"; END'
    ),
    "a condition without end": (
        f"CREATE TRIGGER rtree_run_geom_insert AFTER INSERT ON run WHEN {ENDLESS} BEGIN DELETE "
        'FROM "rtree_borehole_geom" WHERE id = NEW."run"; END'
    ),
    "another table's counter": (
        "CREATE TRIGGER trigger_insert_feature_count_run AFTER INSERT ON run BEGIN UPDATE "
        "gpkg_ogr_contents SET feature_count = feature_count + 1 WHERE lower(table_name) = "
        "lower('borehole'); END"
    ),
    "a guard with work in it": (
        "CREATE TRIGGER gpkg_own BEFORE INSERT ON gpkg_contents FOR EACH ROW BEGIN SELECT "
        f"RAISE(ABORT, 'no') WHERE {ENDLESS}; END"
    ),
    "an index that computes": "CREATE INDEX own ON run (abs(run))",
    "an index of some rows": "CREATE INDEX own ON run (run) WHERE length(command) > 3",
    "a generated column": (
        "ALTER TABLE borehole ADD COLUMN big TEXT AS (hex(zeroblob(400000000))) VIRTUAL"
    ),
    "a rule with work in it": (
        "ALTER TABLE run ADD COLUMN own INTEGER CHECK (hex(zeroblob(own)) > 0)"
    ),
}


@pytest.mark.parametrize("kind", sorted(HOSTILE))
def test_what_runs_by_itself_is_refused_before_it_runs(filled, edit, kind):
    """The inspection names it, a command that writes refuses, and nothing is changed."""
    with contextlib.suppress(sqlite3.OperationalError):
        edit(filled, "CREATE TABLE gpkg_ogr_contents (table_name TEXT, feature_count INTEGER)")
    with contextlib.closing(sqlite3.connect(filled.path, isolation_level=None)) as connection:
        connection.execute(HOSTILE[kind])
    before, began = filled.path.read_bytes(), time.process_time()
    assert [f for f in inspect(filled.path) if f.severity == "error"]
    with pytest.raises(DamagedError, match="which geoprofile did not make"):
        filled.write(Changes(command="load", derived={}))
    assert filled.path.read_bytes() == before
    assert time.process_time() - began < 20


def test_columns_of_the_users_own_pass(filled, edit):
    """A GIS adds columns, plain indexes and values for empty cells."""
    edit(
        filled,
        "ALTER TABLE borehole ADD COLUMN \"my note\" TEXT(80) DEFAULT 'none yet'",
        "ALTER TABLE borehole ADD COLUMN seen INTEGER NOT NULL DEFAULT -1",
        'CREATE INDEX own ON borehole ("my note" DESC, seen)',
    )
    with contextlib.closing(sqlite3.connect(filled.path)) as connection:
        assert foreign_sql(connection) == []
    assert [f for f in inspect(filled.path) if f.severity == "error"] == []


def test_a_default_that_computes_is_refused(filled):
    """SQLite takes it when a table is made, not later; so its text is changed in the file."""
    with contextlib.closing(sqlite3.connect(filled.path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET sql = replace(sql, '\"command\" TEXT', "
            "'\"command\" TEXT DEFAULT (hex(zeroblob(400000000)))') WHERE name = 'run'"
        )
    with contextlib.closing(sqlite3.connect(filled.path)) as connection:
        assert foreign_sql(connection) == ["default of column run.command"]


def test_work_without_end_is_ended(filled, monkeypatch):
    """Whatever else a file may bring: time and memory of its SQL have an end, told as damage."""
    monkeypatch.setattr(connection_module, "LEAST_CPU_S", 0.05)
    with (
        pytest.raises(DamagedError, match="more work or memory"),
        connection_module.reading(filled.path) as connection,
    ):
        connection.execute(f"SELECT {ENDLESS}").fetchall()
    with (
        pytest.raises(DamagedError, match="more work or memory"),
        connection_module.reading(filled.path) as connection,
    ):
        connection.execute("SELECT hex(zeroblob(400000000))").fetchall()


def test_words_know_quotes():
    """Blanks and case count within quotes, and not outside."""
    assert words("Select  \"A b\" , 'X  y';") == words("SELECT \"a B\",'X  y'")
    assert words("select 'X y'") != words("select 'X  y'")
