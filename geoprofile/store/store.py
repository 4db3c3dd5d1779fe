"""The Store: one site file, read as a frozen Site and written one command at a time."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import BusyError, DamagedError, DataError, UsageError
from geoprofile.schema import INPUT, SCHEMA_VERSION, SYSTEM, TABLES
from geoprofile.store import fingerprints
from geoprofile.store.changes import Changes, WriteReport
from geoprofile.store.connection import (
    FAULTS,
    connect,
    has_sidecar,
    prepare,
    reading,
    state_of,
    telling,
    writing,
)
from geoprofile.store.core import create_core
from geoprofile.store.layout import create_table
from geoprofile.store.marks import Marks, marks_of, refuse_changed
from geoprofile.store.opening import (
    MEANWHILE,
    NOT_READ_BACK,
    check_header,
    open_checked,
    read_settings,
    settle,
)
from geoprofile.store.reader import LayerFacts, verify
from geoprofile.store.reference import Reference, site_reference
from geoprofile.store.rows import to_json
from geoprofile.store.shared_places import advice
from geoprofile.store.sidecars import set_apart, set_aside_orphans, set_aside_strangers
from geoprofile.store.styling import set_style
from geoprofile.store.tables import touch
from geoprofile.store.writing import (
    apply,
    broken_reference,
    now_utc,
    prepare_changes,
    replace_settings,
)
from geoprofile.whole import flush, private_folder, publish_new, real_place

if TYPE_CHECKING:
    from geoprofile.plugins import Progress
    from geoprofile.site import Site


class Store:
    """A site file. It holds no connection: every call opens the file, and closes it again.

    `remarks` are what opening found that the user should know, such as an interrupted write.
    """

    def __init__(self, path: Path, remarks: tuple[str, ...] = ()) -> None:
        self.path = path
        self.remarks = remarks

    @classmethod
    def create(
        cls,
        path: str | Path,
        *,
        name: str,
        crs: str | None,
        vertical_datum: str,
        settings: Mapping[str, Any] | None = None,
        overwrite: bool = False,
    ) -> Store:
        """Make a new site file with empty input tables.

        It is built beside its place and moved there once it is whole. DataError for a CRS that is
        missing, geographic or not in metres; UsageError when the file exists already.
        """
        path = real_place(path)
        reference = site_reference(crs)
        moved = _check_place(path, overwrite)
        values = {**(settings or {}), "name": name, "vertical_datum": vertical_datum}
        with telling(path), private_folder(path.parent) as work:
            beside = work / path.name
            _build(beside, reference, values)
            set_apart(beside)
            verify(beside, [])
            return cls(path, moved + put_in_place(beside, path, overwrite=overwrite))

    @classmethod
    def open(cls, path: str | Path) -> Store:
        """Open an existing site file; an interrupted write is undone first and remarked on.

        DamagedError when it is no sound site file of this version.
        """
        return cls(Path(path), open_checked(Path(path)).remarks)

    @classmethod
    def peek(cls, path: str | Path) -> Store:
        """A site file only to be read, of whatever layout; DamagedError when it is none."""
        path = Path(path)
        with telling(path):
            check_header(path)
            return cls(path, tuple(settle(path)))

    def read(self, tables: Sequence[str] | None = None) -> Site:
        """A frozen snapshot of the named tables, or of every table that the file has."""
        with reading(self.path) as connection:
            return self._site(connection, tables)

    def snapshot(self) -> tuple[Site, Marks]:
        """Every table, and the fingerprints of the same moment."""
        with reading(self.path) as connection:
            return self._site(connection, None), marks_of(connection)

    def _site(self, connection: sqlite3.Connection, tables: Sequence[str] | None) -> Site:
        from geoprofile.site import Site
        from geoprofile.store.reading import read_table, settings_by_step

        values = read_settings(connection, self.path)
        crs = str(values.pop("crs"))
        frames = {t: read_table(connection, t, crs) for t in _known(tables)}
        used = settings_by_step(connection)
        values.pop("schema_version", None)
        return Site(
            name=str(values.pop("name", "")),
            crs=crs,
            vertical_datum=str(values.pop("vertical_datum", "")),
            settings=values,
            tables={t: frame for t, frame in frames.items() if frame is not None},
            path=str(self.path),
            used=used,
        )

    def marks(self) -> Marks:
        """The fingerprints of the present state, without pandas."""
        with reading(self.path) as connection:
            return marks_of(connection)

    def is_as_loaded(self) -> bool:
        """Whether the input tables are as the last load left them: nobody edited or drew a row."""
        return self.marks().is_as_loaded

    def fingerprint(self, table: str) -> str:
        """SHA-256 of the content of a table, its geometry included, in the order of its key."""
        return self.fingerprints([table])[table]

    def fingerprints(self, tables: Sequence[str]) -> dict[str, str]:
        """The fingerprints of several tables, all of the same moment."""
        with reading(self.path) as connection:
            return {t: fingerprints.fingerprint(connection, t) for t in _known(tables)}

    def rows(self, table: str, columns: Sequence[str] | None = None) -> list[tuple[Any, ...]]:
        """Rows of a table in the order of its key, without pandas; by default all its columns."""
        with reading(self.path) as connection:
            return fingerprints.rows_of(connection, _known([table])[0], columns)

    def tables(self) -> tuple[str, ...]:
        """The tables of the schema that the file has, in the order of the schema."""
        with reading(self.path) as connection:
            return tuple(t for t in TABLES if fingerprints.columns_of(connection, t))

    def columns(self, table: str) -> dict[str, str]:
        """The columns of a table and their kinds: those of the schema, then the user's own."""
        kinds = {c.name: str(c.kind) for c in TABLES[_known([table])[0]].columns}
        with reading(self.path) as connection:
            present = fingerprints.columns_of(connection, table)
        return {n: kinds.get(n, "") for n in (*kinds, *(c for c in present if c not in kinds))}

    def counts(self) -> dict[str, int]:
        """Rows of every table of the schema that the file has, in the order of the schema."""
        with reading(self.path) as connection:
            present = [t for t in TABLES if fingerprints.columns_of(connection, t)]
            return {t: fingerprints.count_of(connection, t) for t in present}

    def settings(self) -> dict[str, Any]:
        """Name, crs, vertical_datum and settings, without pandas."""
        with reading(self.path) as connection:
            return read_settings(connection, self.path)

    def write(self, changes: Changes, progress: Progress | None = None) -> WriteReport:
        """Store all changes of a command in one transaction, then have them read back.

        ChangedError when another program has changed what `changes.seen` says was read.
        BusyError when another program is writing, DiskError when the disk refuses, DataError when a
        row breaks a rule: nothing is changed then. DamagedError when what an independent reader
        sees is not what was meant.
        """
        opened = open_checked(self.path)
        reference = site_reference(str(opened.site["crs"]))
        prepared = prepare_changes(changes, reference.srs_id)
        with writing(self.path) as connection:
            refuse_changed(connection, changes.seen, self.path)
            run, facts = apply(connection, prepared, changes, reference, progress)
            marks = marks_of(connection)
            _commit(connection, list(TABLES))
        remarks = (*opened.remarks, *_verified(self.path, facts))
        return WriteReport(run, {f.name: f.rows for f in facts}, remarks, marks)


def _verified(path: Path, facts: list[LayerFacts]) -> tuple[str, ...]:
    """Have the layers read back; a remark instead where another program wrote in between."""
    try:
        str(path.absolute()).encode()
    except UnicodeEncodeError:
        return (NOT_READ_BACK,)
    state = state_of(path)
    try:
        verify(path, facts)
    except DamagedError:
        if state_of(path) == state:
            raise
        return (MEANWHILE,)
    return ()


def _commit(connection: sqlite3.Connection, tables: list[str]) -> None:
    """Commit; where a reference does not hold, name the row instead."""
    try:
        connection.execute("COMMIT")
    except sqlite3.IntegrityError as error:
        present = [t for t in tables if fingerprints.columns_of(connection, t)]
        broken = broken_reference(connection, present)
        if broken is None:
            raise
        raise broken from error


def _known(tables: Sequence[str] | None) -> list[str]:
    unknown = [t for t in tables or () if t not in TABLES]
    if unknown:
        raise DataError(
            "site", f"no table '{unknown[0]}'", f"one of {', '.join(TABLES)}", "Check the name."
        )
    return list(TABLES) if tables is None else list(tables)


def put_in_place(beside: Path, path: Path, *, overwrite: bool = False) -> tuple[str, ...]:
    """Give a finished site file its name; remarks on sidecars that had to go, and on the place.

    UsageError when another program made a file of that name meanwhile.
    """
    remarks = (*set_aside_orphans(path), *map(str, advice(path)))
    if overwrite and path.exists():
        flush(beside)
        beside.replace(path)
        flush(path.parent)
    elif not publish_new(beside, path):
        raise _taken(path)
    return remarks


def _taken(path: Path) -> UsageError:
    return UsageError(
        path.name, "a file of that name", "a new name", "Choose another or use --overwrite."
    )


def _finish(path: Path) -> None:
    """Let SQLite undo or keep what a killed program left; nothing where a lock is held."""
    with contextlib.suppress(*FAULTS, OSError):
        connection = connect(path, seconds=0.2)
        with contextlib.closing(connection):
            connection.execute("BEGIN EXCLUSIVE")
            # a write, since a cold journal is taken away only by the commit of one
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            connection.execute(f"PRAGMA user_version = {int(version)}")
            connection.execute("COMMIT")


def _check_place(path: Path, overwrite: bool) -> tuple[str, ...]:
    """Refuse a place that is taken or written to; what of another file had to be moved aside."""
    if not path.parent.is_dir():
        raise UsageError(
            str(path.parent), "no such folder", "an existing folder", "Create it first."
        )
    if not path.exists():
        return ()
    if not overwrite:
        raise _taken(path)
    moved = set_aside_strangers(path)
    if has_sidecar(path, "-journal") and not has_sidecar(path, "-wal"):
        _finish(path)  # what a killed program left is no program that writes; a GIS has a -wal
    if has_sidecar(path, "-wal") or has_sidecar(path, "-journal"):
        raise BusyError(
            path.name,
            "that another program has it open for writing",
            "a file that nobody writes",
            "Close the GIS, then run again.",
        )
    return moved


def _build(path: Path, reference: Reference, values: Mapping[str, Any]) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        prepare(connection)
        connection.execute("BEGIN IMMEDIATE")
        create_core(connection, reference)
        for table in (*SYSTEM, *INPUT):
            create_table(connection, table, reference.srs_id)
        now = now_utc()
        fixed = {"crs": reference.text, "schema_version": SCHEMA_VERSION}
        connection.executemany(
            "INSERT INTO site (name, value) VALUES (?, ?)",
            [(n, to_json(v)) for n, v in fixed.items()],
        )
        replace_settings(connection, values, reference.text)
        for table in (*SYSTEM, *INPUT):
            set_style(connection, table, now)
            touch(connection, table, None, now)
        connection.execute("COMMIT")
    finally:
        connection.close()
