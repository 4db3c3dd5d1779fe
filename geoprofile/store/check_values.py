"""Checks of values, dictionary, metadata, relations, styles and SQL that the file brings."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator

from geoprofile.store.check_file import MOMENT
from geoprofile.store.connection import quoted
from geoprofile.store.findings import (
    IN_GIS,
    REPAIR,
    Finding,
    Look,
    columns,
    error,
    warning,
)
from geoprofile.store.foreign import foreign_sql

# ruff: noqa: S608 - names pass through quoted(), values are parameters

DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$")
NUMBERS = ("REAL", "DOUBLE", "FLOAT", "INTEGER", "INT", "MEDIUMINT", "SMALLINT", "TINYINT")
REACHES_OUT = re.compile(
    r"\b(load_extension|readfile|writefile|fts3_tokenizer|edit|ogr_\w+|spatialite\w*)\b", re.I
)
VIEW_STEPS = 500  # times 100 000 instructions of SQLite, some seconds at worst
UNLIKELY_ROWS = 5000  # distinct values looked at per column
FORBIDDEN = tuple(
    getattr(sqlite3, f"SQLITE_{name}")
    for name in ("ATTACH", "DETACH", "INSERT", "UPDATE", "DELETE", "PRAGMA", "DROP_TABLE")
)
DROP_SQL = "Drop it, unless you know what it does; geoprofile does not write beside it."


def check_values(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Dates that are none, flags that are neither 0 nor 1, text and infinity in numbers."""
    for layer in look.layers.values():
        if layer.name not in look.tables or layer.data_type not in ("features", "attributes"):
            continue
        for column, kind, _, _ in columns(connection, layer.name):
            yield from _check_column(connection, layer.name, column, kind)


def _check_column(
    connection: sqlite3.Connection, table: str, column: str, kind: str
) -> Iterator[Finding]:
    place, name = f"table {table}", quoted(column)
    pattern = {"DATE": DAY, "DATETIME": MOMENT}.get(kind)
    if pattern is not None:
        for (value,) in connection.execute(
            f"SELECT DISTINCT {name} FROM {quoted(table)} WHERE {name} NOTNULL "
            f"LIMIT {UNLIKELY_ROWS}"
        ):
            if not isinstance(value, str) or not pattern.match(value):
                yield warning("value", place, f"{column}: {value!r} is no {kind.lower()}", IN_GIS)
        return
    conditions = []
    if kind == "BOOLEAN":
        conditions = [(f"{name} NOT IN (0, 1)", "neither yes nor no")]
    elif kind in NUMBERS:
        conditions = [
            (f"typeof({name}) IN ('text', 'blob')", "no number"),
            (f"abs({name}) > 1.7976931348623157e308", "infinite"),
        ]
    for condition, what in conditions:
        for (value,) in connection.execute(
            f"SELECT {name} FROM {quoted(table)} WHERE {condition} LIMIT 5"
        ):
            yield error("value", place, f"{column}: {value!r} is {what}", IN_GIS)


def check_dictionary(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """The data dictionary describes what is there, and the values obey it."""
    if "gpkg_data_columns" not in look.tables:
        return
    if not any(e[2] == "gpkg_schema" for e in look.extensions):
        yield error("extension", "gpkg_schema", "it is used but not registered", REPAIR)
    rules = _rules(connection, look)
    for table, column, rule in connection.execute(
        "SELECT table_name, column_name, constraint_name FROM gpkg_data_columns"
    ).fetchall():
        place = f"table {table}"
        if not look.has(table):
            yield error("dictionary", place, "described, but there is no such table", REPAIR)
        elif column not in {c[0] for c in columns(connection, table)}:
            yield error("dictionary", place, f"column {column} is described, but missing", REPAIR)
        elif rule and rule not in rules:
            yield error("dictionary", place, f"the rule {rule} of {column} is missing", REPAIR)
        elif rule:
            yield from _check_rule(connection, table, column, rules[rule])


Rule = tuple[str, str, float | None, float | None]


def _rules(connection: sqlite3.Connection, look: Look) -> dict[str, list[Rule]]:
    rules: dict[str, list[Rule]] = {}
    if "gpkg_data_column_constraints" in look.tables:
        for name, *rule in connection.execute(
            "SELECT constraint_name, constraint_type, value, min, max "
            "FROM gpkg_data_column_constraints"
        ):
            rules.setdefault(name, []).append((rule[0], rule[1], rule[2], rule[3]))
    return rules


def _check_rule(
    connection: sqlite3.Connection, table: str, column: str, rules: list[Rule]
) -> Iterator[Finding]:
    name = quoted(column)
    if rules[0][0] == "enum":
        marks = ", ".join("?" * len(rules))
        where = f"{name} NOTNULL AND CAST({name} AS TEXT) NOT IN ({marks})"
        values: list[object] = [r[1] for r in rules]
    elif rules[0][0] == "range":
        where = f"{name} < ? OR {name} > ?"
        values = [-1e308 if rules[0][2] is None else rules[0][2]]
        values.append(1e308 if rules[0][3] is None else rules[0][3])
    else:
        return
    for (value,) in connection.execute(
        f"SELECT DISTINCT {name} FROM {quoted(table)} WHERE {where} LIMIT 5", values
    ):
        yield warning("rule", f"table {table}", f"{column}: {value!r} is not allowed", IN_GIS)


def check_links(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Metadata, relations between tables, and styles point at things that are there."""
    if "gpkg_metadata_reference" in look.tables:
        known = set()
        if "gpkg_metadata" in look.tables:
            known = {r[0] for r in connection.execute("SELECT id FROM gpkg_metadata")}
        for scope, table, number in connection.execute(
            "SELECT reference_scope, table_name, md_file_id FROM gpkg_metadata_reference"
        ):
            if number not in known:
                yield error("metadata", f"table {table}", f"metadata {number} is missing", REPAIR)
            if scope != "geopackage" and not look.has(table or ""):
                yield error("metadata", f"table {table}", "there is no such table", REPAIR)
    if "gpkgext_relations" in look.tables:
        yield from _check_relations(connection, look)
    if "layer_styles" in look.tables:
        yield from _check_styles(connection, look)


def _check_relations(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    for base, base_key, other, other_key, mapping in connection.execute(
        "SELECT base_table_name, base_primary_column, related_table_name, "
        "related_primary_column, mapping_table_name FROM gpkgext_relations"
    ).fetchall():
        gone = [t for t in (base, other, mapping) if not look.has(t)]
        if gone:
            yield error("relation", mapping, f"table {gone[0]} is missing", IN_GIS)
            continue
        try:
            yield from _check_mapping(connection, mapping, "base_id", base, base_key)
            yield from _check_mapping(connection, mapping, "related_id", other, other_key)
        except sqlite3.Error as fault:
            yield error("relation", mapping, f"it cannot be followed ({fault})", IN_GIS)


def _check_mapping(
    connection: sqlite3.Connection, mapping: str, side: str, table: str, key: str
) -> Iterator[Finding]:
    (count,) = connection.execute(
        f"SELECT count(*) FROM {quoted(mapping)} m WHERE NOT EXISTS "
        f"(SELECT 1 FROM {quoted(table)} t WHERE t.{quoted(key)} = m.{side})"
    ).fetchone()
    if count:
        yield error("relation", mapping, f"{count} rows point at no {table}", IN_GIS)


def _check_styles(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    defaults: dict[str, int] = {}
    for table, chosen, size in connection.execute(
        "SELECT f_table_name, useAsDefault, length(styleQML) FROM layer_styles"
    ):
        if table not in look.layers:
            yield warning("style", f"table {table}", "a style for a missing layer", REPAIR)
        if not chosen:
            continue
        defaults[table] = defaults.get(table, 0) + 1
        if not size:
            yield warning("style", f"table {table}", "the default style cannot be used", REPAIR)
    for table, count in defaults.items():
        if count > 1:
            yield warning("style", f"table {table}", f"{count} default styles", IN_GIS)


def check_sql(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """SQL that is neither ours nor GDAL's, and virtual tables; nothing of it is run."""
    for found in foreign_sql(connection):
        kind, _, name = found.partition(" ")
        table = look.triggers[name][0] if kind == "trigger" else name
        yield error(kind, f"table {table}", f"{found} is not ours", DROP_SQL)
    for name, sql in look.views.items():
        if REACHES_OUT.search(sql):
            yield error("view", f"view {name}", "it reaches outside the database", DROP_SQL)
    for name, sql in look.tables.items():
        flat = " ".join(sql.split()).upper()
        if flat.startswith("CREATE VIRTUAL TABLE") and " USING RTREE" not in flat:
            yield warning("virtual table", f"table {name}", "a virtual table", DROP_SQL)


def check_views(connection: sqlite3.Connection, look: Look) -> Iterator[Finding]:
    """Listed views have an integer id first, each id once, and end in a reasonable time."""
    for name in look.views:
        if name not in look.layers:
            continue
        found = columns(connection, name)
        if not found or found[0][1] not in ("INTEGER", "INT", "MEDIUMINT"):
            what = "no integer id first: selecting in a GIS may hit the wrong row"
            yield warning("view", f"view {name}", what, IN_GIS)
        if not found:
            continue
        try:
            ids = _read_guarded(connection, name, found[0][0])
        except sqlite3.Error as fault:
            yield error("view", f"view {name}", f"it fails ({fault})", DROP_SQL)
            continue
        if len(set(ids)) != len(ids):
            yield error("view", f"view {name}", "it repeats ids", IN_GIS)


def _read_guarded(connection: sqlite3.Connection, view: str, column: str) -> list[object]:
    """The ids of a view, read where it may neither write nor reach out nor run for ever."""
    steps = 0

    def allow(action: int, first: str | None, second: str | None, *_: str | None) -> int:
        calls_out = action == sqlite3.SQLITE_FUNCTION and REACHES_OUT.search(second or "")
        return sqlite3.SQLITE_DENY if action in FORBIDDEN or calls_out else sqlite3.SQLITE_OK

    def tick() -> bool:
        nonlocal steps
        steps += 1
        return steps > VIEW_STEPS

    connection.set_authorizer(allow)
    connection.set_progress_handler(tick, 100000)
    try:
        sql = f"SELECT {quoted(column)} FROM {quoted(view)} LIMIT 1000000"
        return [row[0] for row in connection.execute(sql)]
    finally:
        connection.set_progress_handler(None, 0)
        connection.set_authorizer(None)
