"""Every kind of damage is found by name, and what can be rebuilt from the rows is repaired."""

from __future__ import annotations

import pytest

from geoprofile.errors import DamagedError
from geoprofile.store import Store, inspect, repair, restore, safety_copy

# as earlier versions wrote them: a desktop GIS then shows a box of few decimals
RANGE = (
    "INSERT INTO gpkg_data_column_constraints VALUES('test_kv_kh','range',NULL,0,0,10,1,NULL); "
    "UPDATE gpkg_data_columns SET constraint_name='test_kv_kh'"
)
PATHS = "rtree_borehole_path_geom"
# statement, code of the finding; repaired from the rows afterwards
REPAIRABLE = [
    ("DELETE FROM gpkg_spatial_ref_sys WHERE srs_id = 0", "system"),
    (
        "UPDATE gpkg_spatial_ref_sys SET definition='', definition_12_063='' WHERE srs_id>1",
        "system",
    ),
    ("UPDATE gpkg_spatial_ref_sys SET definition='undefined' WHERE srs_id=32631", "system"),
    ("DELETE FROM gpkg_extensions WHERE extension_name='gpkg_crs_wkt'", "extension"),
    (
        "UPDATE gpkg_extensions SET table_name='gone' WHERE extension_name='gpkg_schema'",
        "extension",
    ),
    ("UPDATE gpkg_extensions SET scope='any'", "extension"),
    ("DELETE FROM gpkg_extensions WHERE extension_name='gpkg_schema'", "extension"),
    ("INSERT INTO gpkg_contents(table_name,data_type) VALUES('gone','attributes')", "contents"),
    ("UPDATE gpkg_contents SET srs_id=4711 WHERE table_name='borehole'", "system"),
    ("UPDATE gpkg_contents SET last_change='yesterday' WHERE table_name='test'", "moment"),
    ("DELETE FROM gpkg_contents WHERE table_name='test'", "unlisted"),
    ("DELETE FROM gpkg_geometry_columns WHERE table_name='area'", "geometry column"),
    ("UPDATE gpkg_contents SET data_type='attributes' WHERE table_name='area'", "geometry column"),
    ("DELETE FROM gpkg_contents WHERE table_name='area'", "contents"),
    ("UPDATE gpkg_geometry_columns SET srs_id=4326 WHERE table_name='area'", "system"),
    ("UPDATE gpkg_geometry_columns SET srs_id=0 WHERE table_name='area'", "system"),
    (
        "UPDATE gpkg_geometry_columns SET geometry_type_name='BLOB' WHERE table_name='area'",
        "geometry type",
    ),
    (
        "UPDATE gpkg_geometry_columns SET geometry_type_name='GEOMETRY' WHERE table_name='area'",
        "geometry type",
    ),
    ("UPDATE gpkg_geometry_columns SET z=0 WHERE table_name='borehole_path'", "dimension Z"),
    (
        "UPDATE area SET geom=CAST(substr(geom,1,4)||x'00000000'||substr(geom,9) AS BLOB)",
        "blob system",
    ),
    (
        "UPDATE area SET geom=CAST(substr(geom,1,8)||x'000000000000f03f000000000000f03f'"
        "||substr(geom,25) AS BLOB)",
        "envelope",
    ),
    ("UPDATE area SET geom=CAST(substr(geom,1,3)||x'c3'||substr(geom,5) AS BLOB)", "blob"),
    (
        "UPDATE borehole SET geom=CAST(substr(geom,1,9)||x'01000000'||substr(geom,14,16) AS BLOB)",
        "dimension Z",
    ),
    ("UPDATE gpkg_contents SET max_x=min_x WHERE table_name='area'", "extent"),
    ("UPDATE gpkg_contents SET min_x=NULL WHERE table_name='area'", "extent"),
    ("UPDATE gpkg_contents SET max_x=9e9 WHERE table_name='area'", "extent"),
    (f"DELETE FROM {PATHS}", "index"),
    (f"INSERT INTO {PATHS} VALUES(99,0,1,0,1)", "index"),
    (f"UPDATE {PATHS} SET maxx=minx-8, minx=minx-9", "index"),
    (f"DROP TABLE {PATHS}", "index"),
    (f"DROP TRIGGER {PATHS}_insert", "index"),
    ("DELETE FROM gpkg_extensions WHERE table_name='area'", "index"),
    (f"UPDATE {PATHS}_node SET data=zeroblob(length(data))", "index"),
    ("INSERT INTO gpkg_data_columns(table_name,column_name) VALUES('gone','x')", "dictionary"),
    ("INSERT INTO gpkg_data_columns(table_name,column_name) VALUES('test','gone')", "dictionary"),
    ("DELETE FROM gpkg_data_column_constraints", "dictionary"),
    (f"{RANGE} WHERE table_name='test' AND column_name='kv_kh'", "form"),
    ("UPDATE gpkg_metadata_reference SET md_file_id=77", "metadata"),
    ("UPDATE gpkg_metadata_reference SET table_name='gone'", "metadata"),
    ("INSERT INTO layer_styles(f_table_name,useAsDefault) VALUES('gone',0)", "style"),
    ("DROP TABLE section_line", "table"),
    ("DROP TABLE gpkg_extensions", "core table"),
]
# statement, code; only the user or a safety copy can set these right
FOR_THE_USER = [
    ("UPDATE borehole SET x=x+5", "moved"),
    ("UPDATE borehole SET geom=NULL", "no shape"),
    ("UPDATE area SET geom='text'", "blob"),
    ("UPDATE area SET geom=x'4750'", "blob"),
    ("UPDATE area SET geom=CAST('XX'||substr(geom,3) AS BLOB)", "blob"),
    ("UPDATE area SET geom=substr(geom,1,60)", "blob"),
    ("UPDATE area SET geom=(SELECT geom FROM borehole)", "geometry type"),
    (
        "UPDATE borehole SET geom=CAST(substr(geom,1,13)||x'000000000000f07f'"
        "||substr(geom,22) AS BLOB)",
        "coordinate",
    ),
    ("UPDATE area SET geom=CAST(substr(geom,1,53)||zeroblob(8)||substr(geom,62) AS BLOB)", "ring"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE borehole SET depth_m='deep'", "value"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE borehole SET depth_m=9e999", "value"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE borehole SET drilled_on='in May'", "value"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE borehole_path SET surveyed=3", "value"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE test SET kind='rising tide'", "rule"),
    ("PRAGMA ignore_check_constraints=ON;UPDATE borehole SET ground_elevation_m=9999", "rule"),
    ("DELETE FROM borehole WHERE borehole='B2'", "reference"),
    ("ALTER TABLE test DROP COLUMN remarks", "column"),
    (
        "CREATE TABLE other(a); INSERT INTO gpkg_contents(table_name,data_type) "
        "VALUES('other','attributes')",
        "key",
    ),
    (
        "CREATE TABLE 'a|b'(fid INTEGER PRIMARY KEY); "
        "INSERT INTO gpkg_contents(table_name,data_type) VALUES('a|b','attributes')",
        "name",
    ),
    (
        "CREATE TABLE gpkg_mine(fid INTEGER PRIMARY KEY); INSERT INTO gpkg_contents"
        "(table_name,data_type) VALUES('gpkg_mine','attributes')",
        "name",
    ),
    ("ALTER TABLE test ADD COLUMN extra VARCHAR(10)", "type"),
    (
        "CREATE TABLE gpkg_ogr_contents(table_name TEXT, feature_count INTEGER); "
        "INSERT INTO gpkg_ogr_contents VALUES('nowhere',3)",
        "count",
    ),
    (
        "INSERT INTO layer_styles(f_table_name,useAsDefault,styleQML) "
        "VALUES('test',1,'a'),('test',1,'b')",
        "style",
    ),
    (
        "CREATE TABLE gpkgext_relations(base_table_name, base_primary_column, related_table_name, "
        "related_primary_column, mapping_table_name); INSERT INTO gpkgext_relations "
        "VALUES('borehole','fid','nothing','fid','neither')",
        "relation",
    ),
    ("CREATE TRIGGER bad AFTER INSERT ON test BEGIN DELETE FROM result; END", "trigger"),
    (
        "CREATE TRIGGER rtree_test_geom_insert AFTER INSERT ON test BEGIN DELETE FROM result; END",
        "trigger",
    ),
    ("CREATE VIEW spy AS SELECT load_extension('x') AS a", "view"),
    (
        "CREATE VIEW twice AS SELECT CAST(1 AS INTEGER) AS fid FROM test; INSERT INTO gpkg_contents"
        "(table_name,data_type) VALUES('twice','attributes')",
        "view",
    ),
    (
        "CREATE VIEW endless AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n) "
        "SELECT sum(i) AS fid FROM n; INSERT INTO gpkg_contents(table_name,data_type) "
        "VALUES('endless','attributes')",
        "view",
    ),
    ("CREATE VIRTUAL TABLE words USING fts4(a)", "virtual table"),
    ("UPDATE site SET value='99' WHERE name='schema_version'", "layout"),
    ("PRAGMA journal_mode=WAL", "wal"),
    ("PRAGMA application_id=1", "application"),
    ("PRAGMA user_version=9", "version"),
]


def codes(path):
    return {f.code for f in inspect(path)}


def test_a_sound_file_has_no_findings(copy):
    """Nothing is found where nothing is wrong."""
    assert inspect(copy.path) == []


@pytest.mark.parametrize(("statement", "code"), REPAIRABLE, ids=[m[0][:60] for m in REPAIRABLE])
def test_damage_to_what_follows_from_the_rows_is_found_and_repaired(copy, damage, statement, code):
    """The finding has its code; after the repair there is none, and the rows are the same."""
    rows = copy.rows("borehole")
    damage(copy.path, statement)
    assert code in codes(copy.path)
    repair(copy.path)
    assert inspect(copy.path) == []
    assert copy.rows("borehole") == rows


@pytest.mark.parametrize(("statement", "code"), FOR_THE_USER, ids=[m[0][:60] for m in FOR_THE_USER])
def test_damage_that_needs_the_user_is_found(copy, damage, statement, code):
    """The finding has its code, and says what to do."""
    damage(copy.path, statement)
    found = [f for f in inspect(copy.path) if f.code == code]
    assert found
    assert all(f.what for f in found)
    assert all(f.what_to_do for f in found if f.code != "version")


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04" + b"\x00" * 300])
def test_another_kind_of_file_is_a_finding(tmp_path, content):
    """An empty file and an archive are told from a damaged database."""
    path = tmp_path / "x.gpkg"
    path.write_bytes(content)
    assert [f.code for f in inspect(path)] == ["file"]


def test_a_file_that_was_cut_off_is_refused_and_not_changed(copy):
    """Half a copy is refused on opening, by its length."""
    whole = copy.path.read_bytes()
    copy.path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(DamagedError, match="cut off"):
        Store.open(copy.path)
    assert copy.path.read_bytes() == whole[: len(whole) // 2]


def test_broken_pages_are_found_and_not_repaired(copy):
    """Noise in the middle of the file is damage that only a safety copy repairs."""
    content = bytearray(copy.path.read_bytes())
    for page in range(20, 60):
        content[page * 4096 : page * 4096 + 2000] = b"\xa5" * 2000
    copy.path.write_bytes(content)
    assert any(f.severity == "error" for f in inspect(copy.path))
    with pytest.raises(DamagedError):
        repair(copy.path)
    assert copy.path.read_bytes() == bytes(content)


def test_a_safety_copy_brings_back_a_ruined_file(copy):
    """The copy is whole, takes the place of the ruin, and the ruin is kept aside."""
    kept = safety_copy(copy.path)
    before = copy.fingerprint("reading")
    copy.path.write_bytes(b"ruined")
    aside = restore(kept, copy.path)
    assert aside.read_bytes() == b"ruined"
    assert Store.open(copy.path).fingerprint("reading") == before
    assert inspect(copy.path) == []
