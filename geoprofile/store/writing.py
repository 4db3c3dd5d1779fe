"""One command's changes in one transaction, and what each written table should now look like."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from geoprofile import __version__
from geoprofile.errors import DamagedError, DataError
from geoprofile.plugins import Progress, no_progress
from geoprofile.schema import TABLES, Table
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import fingerprint_of_fields
from geoprofile.store.foreign import foreign_sql
from geoprofile.store.layout import geometry_type, has_z
from geoprofile.store.marks import LOAD
from geoprofile.store.moments import zone_moments
from geoprofile.store.provenance import describe_origin
from geoprofile.store.reader import LayerFacts
from geoprofile.store.reference import SECTION, Reference, site_reference
from geoprofile.store.rows import Rows, key_tuples, rows_from, stored_moment, to_json
from geoprofile.store.styling import renew_forms, set_style
from geoprofile.store.tables import (
    delete,
    ensure_table,
    extent_of,
    insert,
    replace,
    touch,
    upsert,
)

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.store.changes import Changes

FINDING = "finding"
FIXED_SETTINGS = ("crs", "schema_version")


@dataclass(eq=False)
class Prepared:
    """Changes checked and turned into rows before the transaction begins."""

    upserts: dict[str, Rows] = field(default_factory=dict)
    deletes: dict[str, list[tuple[Any, ...]]] = field(default_factory=dict)
    derived: dict[str, Rows] = field(default_factory=dict)
    findings: Rows | None = None

    @property
    def tables(self) -> list[str]:
        """Every table touched, in the order of the schema."""
        named = {*self.upserts, *self.deletes, *self.derived}
        named |= set() if self.findings is None else {FINDING}
        return [name for name in TABLES if name in named]


def now_utc() -> str:
    """The present time as the file stores it, to the millisecond as GeoPackage asks."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def prepare_changes(changes: Changes, srs_id: int) -> Prepared:
    """Check every frame against its table; DataError before anything is opened."""
    prepared = Prepared()
    upserts: dict[str, pd.DataFrame] = dict(changes.upserts)
    if changes.loaded is not None:
        upserts["loaded"] = changes.loaded
    for name, frame in upserts.items():
        table = _table(name, ("input", "system"))
        whole = _with_key(table, frame)
        prepared.upserts[name] = rows_from(table, whole, srs_id, extra=table.owner == "input")
    for name, keys in changes.deletes.items():
        _table(name, ("input", "system"))
        prepared.deletes[name] = key_tuples(keys)
    for name, frame in changes.derived.items():
        table = _table(name, ("derived",))
        plane_id = SECTION.srs_id if table.plane == "section" else srs_id
        prepared.derived[name] = rows_from(table, frame, plane_id, extra=False)
    if changes.findings is not None:
        frame = changes.findings
        prepared.findings = rows_from(TABLES[FINDING], frame, srs_id, extra=False)
    return prepared


def _table(name: str, owners: tuple[str, ...]) -> Table:
    if name in TABLES and TABLES[name].owner in owners:
        return TABLES[name]
    raise DataError(
        "changes", f"table '{name}'", f"a {' or '.join(owners)} table", "Check the name."
    )


def _with_key(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with every key column; DataError for a missing key or a repeated one."""
    gone = [k for k in table.key if k not in frame.columns and table.column(k).required]
    if gone:
        raise DataError(
            f"table {table.name}", f"no column {', '.join(gone)}", "its key", "Add the key."
        )
    frame = frame.assign(**{k: None for k in table.key if k not in frame.columns})
    repeated = frame[frame.duplicated(list(table.key), keep=False)]
    if len(repeated):
        key = ", ".join(str(v) for v in repeated.iloc[0][list(table.key)])
        raise DataError(
            f"table {table.name}", f"the key {key} twice", "each key once", "Remove one row."
        )
    return frame


def apply(
    connection: sqlite3.Connection,
    prepared: Prepared,
    changes: Changes,
    site: Reference,
    progress: Progress | None = None,
) -> tuple[int, list[LayerFacts]]:
    """Store everything inside the open transaction; the run and how each table should look."""
    refuse_foreign_sql(connection)
    tell, now = progress or no_progress, now_utc()
    names = prepared.tables
    for name in names:
        ensure_table(connection, TABLES[name], site.srs_id)
    zone_moments(connection)
    run = _log_run(connection, changes, now)
    for done, name in enumerate(names):
        tell(done, len(names))
        _store(connection, TABLES[name], prepared, run)
    if prepared.findings is not None:
        _replace_findings(connection, changes, _with_run(prepared.findings, run))
    _log_steps(connection, changes, run, site.srs_id)
    if changes.site is not None:
        replace_settings(connection, changes.site, site.text)
    for name in names:
        set_style(connection, TABLES[name], now)
    renew_forms(connection, now)
    facts = [
        _finish(connection, TABLES[name], site, prepared.derived.get(name), now) for name in names
    ]
    for name in (*prepared.derived, *(() if prepared.findings is None else (FINDING,))):
        describe_origin(connection, name, changes, run, now)
    for name in ("run", "step", "source_file", "site"):
        touch(connection, TABLES[name], None, now)
    tell(len(names), len(names))
    return run, facts


def refuse_foreign_sql(connection: sqlite3.Connection) -> None:
    """DamagedError when the file brings SQL that would run as soon as we write."""
    found = foreign_sql(connection)
    if found:
        raise DamagedError(
            "site file",
            f"{', '.join(found)}, which geoprofile did not make",
            "no SQL but that of geoprofile and the triggers that GDAL keeps",
            "Drop it if you know where it comes from; nothing was changed.",
        )


def _store(connection: sqlite3.Connection, table: Table, prepared: Prepared, run: int) -> None:
    try:
        if table.name in prepared.deletes:
            delete(connection, table, prepared.deletes[table.name])
        if table.name in prepared.upserts:
            upsert(connection, table, prepared.upserts[table.name])
        if table.name in prepared.derived:
            replace(connection, table, _with_run(prepared.derived[table.name], run))
    except sqlite3.IntegrityError as error:
        raise DataError(
            f"table {table.name}",
            f"a row that breaks a rule ({error})",
            "rows that obey the schema",
            "Correct the row; nothing was stored.",
        ) from error


def _replace_findings(connection: sqlite3.Connection, changes: Changes, rows: Rows) -> None:
    """Put what some steps found in place of what they found before; findings of others stay."""
    steps, tables = list(changes.steps_that_found), changes.found_in
    where = f"step IN ({', '.join('?' * len(steps))})"
    if tables is not None:
        where += f" AND source_table IN ({', '.join('?' * len(tables))})"
    connection.execute(f"DELETE FROM {FINDING} WHERE {where}", (*steps, *(tables or ())))
    insert(connection, TABLES[FINDING], rows.columns, rows.values)


def _with_run(rows: Rows, run: int) -> Rows:
    if "run" in rows.columns:
        place = rows.columns.index("run")
        values = [(*row[:place], run, *row[place + 1 :]) for row in rows.values]
        return Rows(rows.columns, values, rows.boxes, rows.added)
    values = [(*row, run) for row in rows.values]
    return Rows((*rows.columns, "run"), values, rows.boxes, rows.added)


def _next_run(connection: sqlite3.Connection) -> int:
    last = connection.execute("SELECT coalesce(max(run), 0) FROM run").fetchone()[0]
    if not isinstance(last, int):
        raise DamagedError(
            "table run",
            f"the number {last!r}",
            "whole numbers; nothing was stored",
            "Correct it in the GIS, or put back a safety copy.",
        )
    return last + 1


def _log_run(connection: sqlite3.Connection, changes: Changes, now: str) -> int:
    run = _next_run(connection)
    started = stored_moment(changes.started_at or now)
    settings, inputs = to_json(dict(changes.settings)), to_json(dict(changes.inputs))
    figures = None if changes.figures is None else to_json(dict(changes.figures))
    connection.execute(
        "INSERT INTO run (run, command, version, settings, inputs, started_at, ended_at, figures) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (run, changes.command, __version__, settings, inputs, started, now, figures),
    )
    return run


def _log_steps(connection: sqlite3.Connection, changes: Changes, run: int, srs_id: int) -> None:
    connection.executemany(
        "INSERT OR REPLACE INTO step (step, fingerprint, run, settings) VALUES (?, ?, ?, ?)",
        [
            (step, fingerprint, run, to_json(dict(changes.settings.get(step, {}))))
            for step, fingerprint in changes.steps.items()
        ],
    )
    if changes.source_files is not None:
        if changes.is_whole_load:
            connection.execute(
                "INSERT OR REPLACE INTO step (step, fingerprint, run) VALUES (?, ?, ?)",
                (LOAD, fingerprint_of_fields(connection), run),
            )
        table = TABLES["source_file"]
        files = changes.source_files.assign(run=run)
        upsert(connection, table, rows_from(table, files, srs_id, extra=False))


def replace_settings(connection: sqlite3.Connection, site: Mapping[str, Any], crs: str) -> None:
    """Put new settings in place of the old; DataError when they move the site to another CRS."""
    if "crs" in site and site_reference(str(site["crs"])).text != crs:
        raise DataError(
            "crs",
            f"'{site['crs']}'",
            f"'{crs}', in which the site file was created",
            "Create a new site file for another CRS and load the tables into it.",
        )
    kept = ("name", "vertical_datum", *FIXED_SETTINGS)
    marks = ", ".join("?" * len(kept))
    connection.execute(f"DELETE FROM site WHERE name NOT IN ({marks})", kept)
    connection.executemany(
        "INSERT INTO site (name, value) VALUES (?, ?) "
        "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        [(n, to_json(v)) for n, v in site.items() if n not in FIXED_SETTINGS],
    )


def _finish(
    connection: sqlite3.Connection, table: Table, site: Reference, whole: Rows | None, now: str
) -> LayerFacts:
    extent = None
    if table.geometry:
        extent = extent_of(connection, table.name) if whole is None else whole.extent
    rows = touch(connection, table, extent, now)
    system = None
    if table.geometry:
        system = SECTION if table.plane == "section" else site
    box = None if extent is None else (extent[0], extent[1], extent[2], extent[3])
    return LayerFacts(table.name, rows, geometry_type(table), has_z(table), system, box)


def broken_reference(connection: sqlite3.Connection, tables: list[str]) -> DataError | None:
    """The error that names the row and what it points at; None when every reference holds."""
    for name in tables:
        for child, rowid, parent, number in connection.execute(
            f"PRAGMA foreign_key_check({quoted(name)})"
        ):
            links = connection.execute(f"PRAGMA foreign_key_list({quoted(child)})").fetchall()
            column = next(link[3] for link in links if link[0] == number)
            value = connection.execute(
                f"SELECT {quoted(column)} FROM {quoted(child)} WHERE rowid = ?", (rowid,)
            ).fetchone()[0]
            return DataError(
                f"table {child}, column {column}",
                f"'{value}', which table {parent} does not have",
                f"a row of table {parent}",
                f"Add it to {parent}, or correct or delete the row that names it; "
                "nothing was stored.",
            )
    return None
