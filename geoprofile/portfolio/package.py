"""One GeoPackage with a point per site and the next tests of all, styled."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from geoprofile.drawing.styles import Style, qml
from geoprofile.drawing.styles.model import Condition, Rule, Symbol
from geoprofile.portfolio.facts import SITES, TESTS
from geoprofile.schema import Table
from geoprofile.store.connection import prepare
from geoprofile.store.core import create_core
from geoprofile.store.layout import create_table, geometry_type, has_z
from geoprofile.store.reader import LayerFacts, verify
from geoprofile.store.reference import site_reference
from geoprofile.store.rows import rows_from
from geoprofile.store.styling import OWNER
from geoprofile.store.tables import extent_of, touch
from geoprofile.store.tables import replace as replace_rows
from geoprofile.store.writing import now_utc
from geoprofile.whole import whole_file

CRS = "EPSG:4326"
FAILED, ALARM, CARE, FINE = "#6d6d6d", "#b2182b", "#e08214", "#4d9221"


def write_package(
    path: Path, sites: Sequence[dict[str, Any]], tests: Sequence[dict[str, Any]]
) -> None:
    """Write the picture of all sites.

    Parameters
    ----------
    path : Path
        Replaced as a whole.
    sites, tests : sequence of dict
        As from `ranked`.
    """
    import geopandas
    import pandas as pd
    import shapely

    reference = site_reference(CRS)
    points = [
        None if row["longitude_deg"] is None
        else shapely.Point(row["longitude_deg"], row["latitude_deg"])
        for row in sites
    ]  # fmt: skip
    frame = geopandas.GeoDataFrame(
        pd.DataFrame(list(sites), columns=[c.name for c in SITES.columns]),
        geometry=points,
        crs=CRS,
    )
    listed = pd.DataFrame(list(tests), columns=[c.name for c in TESTS.columns])
    with whole_file(path) as beside:
        connection = sqlite3.connect(beside, isolation_level=None)
        try:
            prepare(connection)
            connection.execute("BEGIN IMMEDIATE")
            create_core(connection, reference)
            facts = []
            for table, rows in ((SITES, frame), (TESTS, listed)):
                create_table(connection, table, reference.srs_id)
                made = rows_from(table, rows, reference.srs_id, extra=False)
                replace_rows(connection, table, made)
                facts.append(_listed(connection, table, reference))
            _style(connection)
            connection.execute("COMMIT")
        finally:
            connection.close()
        verify(beside, facts)


def _listed(connection: sqlite3.Connection, table: Table, reference: Any) -> LayerFacts:
    extent = extent_of(connection, table.name) if table.geometry else None
    count = touch(connection, table, extent, now_utc())
    box = None if extent is None else (extent[0], extent[1], extent[2], extent[3])
    shown = reference if table.geometry else None
    return LayerFacts(table.name, count, geometry_type(table), has_z(table), shown, box)


def style() -> Style:
    """Sites by the gravest thing known of them; those that failed as squares."""

    def mark(colour: str, **more: Any) -> Symbol:
        return replace(Symbol("marker", colour, "#ffffff", 0.3, 4.0), **more)

    finished = Condition("state", "=", "finished")

    def grave(title: str, word: str | None, colour: str) -> Rule:
        return Rule(title, (finished, Condition("worst_severity", "=", word)), mark(colour))

    return Style(
        SITES.name,
        "marker",
        (
            Rule("failed", (Condition("state", "=", "failed"),), mark(FAILED, form="square")),
            Rule(
                "not computed",
                (Condition("state", "=", "not computed"),),
                mark(FAILED, form="triangle"),
            ),
            grave("with an error", "error", ALARM),
            grave("with a warning", "warning", CARE),
            grave("with notes", "note", FINE),
            grave("without findings", None, FINE),
        ),
        label="site",
        label_at="below",
    )


def _style(connection: sqlite3.Connection) -> None:
    connection.execute(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
        "f_geometry_column, styleName, styleQML, useAsDefault, description, owner, update_time) "
        "VALUES ('', '', ?, 'geometry', ?, ?, 1, ?, ?, ?)",
        (SITES.name, OWNER, qml(style()), SITES.title, OWNER, now_utc()),
    )
