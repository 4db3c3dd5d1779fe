"""The parts that every GeoPackage has: header numbers, reference systems, contents, dictionary.

Source: OGC 12-128r17 (GeoPackage 1.3) with its extensions CRS WKT, schema, metadata and R-tree.
"""

from __future__ import annotations

import sqlite3

from geoprofile.store.reference import SECTION, Reference

APPLICATION_ID = 0x47504B47  # "GPKG"
USER_VERSION = 10300

CORE_TABLES = (
    """CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL PRIMARY KEY,
  organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL,
  description TEXT,
  definition_12_063 TEXT NOT NULL
)""",
    """CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY,
  data_type TEXT NOT NULL,
  identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE,
  min_y DOUBLE,
  max_x DOUBLE,
  max_y DOUBLE,
  srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
)""",
    """CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL,
  m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
)""",
    """CREATE TABLE gpkg_extensions (
  table_name TEXT,
  column_name TEXT,
  extension_name TEXT NOT NULL,
  definition TEXT NOT NULL,
  scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
)""",
    """CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  name TEXT,
  title TEXT,
  description TEXT,
  mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name)
)""",
    """CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL,
  constraint_type TEXT NOT NULL,
  value TEXT,
  min NUMERIC,
  min_is_inclusive BOOLEAN,
  max NUMERIC,
  max_is_inclusive BOOLEAN,
  description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
)""",
    """CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT ''
)""",
    """CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL,
  table_name TEXT,
  column_name TEXT,
  row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id)
)""",
    """CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256),
  f_table_schema TEXT(256),
  f_table_name TEXT(256),
  f_geometry_column TEXT(256),
  styleName TEXT(30),
  styleQML TEXT,
  styleSLD TEXT,
  useAsDefault BOOLEAN,
  description TEXT,
  owner TEXT(30),
  ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
)""",
)

SPEC = "http://www.geopackage.org/spec130/#"
EXTENSIONS = (
    ("gpkg_spatial_ref_sys", "definition_12_063", "gpkg_crs_wkt", "extension_crs_wkt"),
    ("gpkg_data_columns", None, "gpkg_schema", "extension_schema"),
    ("gpkg_data_column_constraints", None, "gpkg_schema", "extension_schema"),
    ("gpkg_metadata", None, "gpkg_metadata", "extension_metadata"),
    ("gpkg_metadata_reference", None, "gpkg_metadata", "extension_metadata"),
)
STANDARD_SYSTEMS = (
    ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "undefined Cartesian system"),
    ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic system"),
)


def create_core(connection: sqlite3.Connection, site: Reference) -> None:
    """Write header numbers, the core tables and the reference systems into an empty database."""
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={USER_VERSION}")
    for statement in CORE_TABLES:
        connection.execute(statement)
    restore_systems(connection, site)
    restore_extensions(connection)


def restore_systems(connection: sqlite3.Connection, site: Reference) -> None:
    """List the required reference systems, the site's and the section sheet's."""
    connection.executemany(
        "INSERT OR REPLACE INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?, 'undefined')",
        STANDARD_SYSTEMS,
    )
    for system in (wgs84(), site, SECTION):
        add_system(connection, system)


def restore_extensions(connection: sqlite3.Connection) -> None:
    """Register the extensions in use, and list the table of styles."""
    for table, column, name, part in EXTENSIONS:
        connection.execute(
            "DELETE FROM gpkg_extensions WHERE table_name = ? AND extension_name = ?", (table, name)
        )
        connection.execute(
            "INSERT INTO gpkg_extensions VALUES (?, ?, ?, ?, 'read-write')",
            (table, column, name, SPEC + part),
        )
    connection.execute(
        "INSERT OR IGNORE INTO gpkg_contents "
        "(table_name, data_type, identifier, description, srs_id) "
        "VALUES ('layer_styles', 'attributes', 'Layer styles', "
        "'How each layer is drawn; a style that the user saves is kept', NULL)"
    )


def add_system(connection: sqlite3.Connection, system: Reference) -> None:
    """List a reference system, in place of an entry of the same number."""
    connection.execute(
        "INSERT OR REPLACE INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            system.name,
            system.srs_id,
            system.organisation,
            system.code,
            system.wkt1,
            system.description,
            system.wkt2,
        ),
    )


def wgs84() -> Reference:
    """Longitude and latitude in degrees, which every GeoPackage lists."""
    from pyproj import CRS

    crs = CRS.from_epsg(4326)
    wkt1, wkt2 = str(crs.to_wkt("WKT1_GDAL")), str(crs.to_wkt("WKT2_2015"))
    return Reference(
        4326, "WGS 84 geodetic", "EPSG", 4326, wkt1, wkt2, "longitude/latitude in degrees"
    )
