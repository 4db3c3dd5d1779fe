"""Two hands on one site folder: a command, and at a chosen moment of it another one.

What both leave must be what one after the other leaves, as `book` has it: no value lost, no
difference untold, nothing computed from what is no longer there.
"""

# ruff: noqa: S608 - names of tables and columns are fixed above, values are parameters

from __future__ import annotations

import contextlib
import importlib
import itertools
import json
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geoprofile.app.deriving import derive
from geoprofile.app.loading import create, load
from geoprofile.app.outcome import Drawn
from geoprofile.app.running import run
from geoprofile.errors import BusyError, DataError, DiskError
from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store import Store, migrations, restore, safety_copy
from geoprofile.store.blobs import encode
from geoprofile.store.connection import FAULTS, connect, register_functions
from geoprofile.testing import book as books
from geoprofile.testing import mishaps
from geoprofile.testing.book import HOLE, Book, Key, Part, Rows

CRITERION = "criterion"
KEYS: tuple[Key, ...] = (
    *((HOLE, name) for name in ("B1", "B2", "B3")),
    *((CRITERION, name) for name in ("TCE", "PCE", "DCE")),
)
ALWAYS = (KEYS[0], KEYS[3])  # never deleted: a table needs a row, a computation a borehole
COLUMN = {HOLE: "depth_m", CRITERION: "value"}
FILE = {HOLE: "boreholes.csv", CRITERION: "criteria.csv"}
START: Rows = {key: 20.0 for key in KEYS if key[1] not in ("B3", "DCE")}
SHORT_S = 0.0  # [s] that the other hand waits for a lock which a command holds until it goes on

# where a moment lies: what is replaced, the name there, and whether its turn is before or after it
Moment = tuple[str, str, bool]
MOMENTS: dict[str, Moment] = {
    "before the files are read": ("geoprofile.intake", "read_files", True),
    "after the files are read": ("geoprofile.intake", "read_files", False),
    "before merging": ("geoprofile.intake", "merge", True),
    "before computing": ("geoprofile.engine.computing", "compute", True),
    "after computing": ("geoprofile.engine.computing", "compute", False),
    "before writing": ("geoprofile.store.store:Store", "write", True),
    "after opening to write": ("geoprofile.store.store", "prepare_changes", True),
    "after writing": ("geoprofile.store.store:Store", "write", False),
    "before drawing": ("geoprofile.app.figures", "draw_run", True),
    "before remembering": ("geoprofile.app.running", "_remember", True),
    "before keeping": ("geoprofile.store.restoring", "keep", True),
    "after keeping": ("geoprofile.store.restoring", "keep", False),
    "before the layout is changed": ("geoprofile.store.migrations", "safety_copy", False),
}
# within a transaction: the other hand finds the file locked
LOCKED: dict[str, Moment] = {
    "before rows are stored": ("geoprofile.store.store", "apply", True),
    "after rows are stored": ("geoprofile.store.store", "apply", False),
    "before tables are rebuilt": ("geoprofile.store.migrations", "bring_to_schema", True),
}


@dataclass(frozen=True)
class Act:
    """Something a hand does: in words, its parts by the model, and the doing of it.

    What `stops` leaves another command no room to go on.
    """

    words: str
    parts: tuple[Part, ...]
    do: Callable[[], object]
    stops: bool = False


class Yard:
    """A small site folder with one cheap layer, and the book that it should agree with."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder, self.site = folder, folder / "site.gpkg"
        toml = 'crs = "EPSG:32632"\nname = "two hands"\n'
        (folder / "site.toml").write_text(toml, encoding="utf-8")
        self.book = Book(files=START)
        self._write_files()
        self._copies: dict[Path, Rows] = {}
        self.taken: list[tuple[Path, Book]] = []
        create(self.site, crs="EPSG:32632", name="two hands")
        self.together(self.run())
        self.take_copy()

    def take_copy(self) -> None:
        """Keep a copy that can be put back."""
        self.taken.append((safety_copy(self.site, "by-hand"), self.book))

    # what a hand can do

    def edit(self, key: Key, value: float | None) -> Act:
        """One row saved in the GIS, or deleted there."""
        return Act(
            f"edit {key} {value}", (books.edited(key, value),), lambda: self._edit(key, value)
        )

    def change_file(self, key: Key, value: float | None) -> Act:
        """One row of a file saved, or deleted."""

        def save() -> None:
            self._write_files(books.file_changed(key, value)(self._on_disk).files)

        return Act(f"file {key} {value}", (books.file_changed(key, value),), save)

    def load(self, prefer: str | None = None, *, prune: bool = False) -> Act:
        """All files loaded."""
        words = f"load prefer={prefer} prune={prune}"
        part = books.loaded(prefer, prune=prune)

        def do() -> object:
            return load(self.site, [self.folder], prefer=prefer, prune=prune)

        return Act(words, (part,), do)

    def compute(self) -> Act:
        """The lengths computed where they are stale."""
        words = "compute"
        return Act(words, (books.computed,), lambda: derive(self.site, [PATHS], command=words)[0])

    def run(self) -> Act:
        """Files loaded, lengths computed, the state remembered."""
        return Act("run", (books.loaded(), books.computed), self._run)

    def restore(self, number: int) -> Act:
        """One of the copies put back."""
        copy, state = self.taken[number % len(self.taken)]
        return Act(f"restore {number}", (books.restored(state),), lambda: restore(copy, self.site))

    def age(self) -> Act:
        """The tables pass for those of an earlier layout."""
        old = f"UPDATE site SET value = '{SCHEMA_VERSION - 1}' WHERE name = 'schema_version'"
        return Act("age", (books.made_old,), lambda: self._sql([(old, ())]))

    def migrate(self) -> Act:
        """The tables brought to the present layout."""
        steps = {SCHEMA_VERSION - 1: lambda connection: None}
        return Act("migrate", (books.migrated,), lambda: migrations.migrate(self.site, steps=steps))

    def lose_editor(self, key: Key, value: float | None, left: str) -> Act:
        """One row saved, or half saved, by an editor that is killed: what it leaves is used."""
        parts = (books.edited(key, value),) if left == mishaps.SAVED else ()

        def do() -> None:
            mishaps.kill_editor(self.site, self._saving(key, value), left)

        return Act(f"kill the editor of {key} {value}, -{left}", parts, do)

    def exchange(self, number: int, left: str) -> Act:
        """One of the copies put in the place by hand, beside what an editor of the file left."""
        copy, state = self.taken[number % len(self.taken)]
        words, part = f"exchange for {number}, -{left}", books.exchanged(state)
        return Act(words, (part,), lambda: mishaps.exchange(self.site, copy, left))

    def fill_disk(self, number: int) -> Act:
        """The disk is full until the command has ended."""
        words = f"fill the disk {number}"
        return Act(words, (), lambda: mishaps.fill_disk(self.site, number), stops=True)

    # doing it

    def together(self, first: Act, second: Act | None = None, moment: str = "") -> None:
        """Do the first, and at that moment of it the second; AssertionError if anything is amiss.

        A moment that is not reached comes after the end.
        """
        nothing = Act("nothing", (), lambda: None)
        other = second or nothing
        said: list[bool] = []

        def turn() -> None:
            said.append(_is_refused(other.do))

        self._on_disk = self.book
        try:
            with _one_layer(), pausing({**MOMENTS, **LOCKED}.get(moment), turn):
                no_first = _is_refused(first.do)
        finally:
            mishaps.free_disk()
        if not said and other.stops:
            other = nothing
        if not said:
            turn()
        no_second = said[0]
        if moment in LOCKED and no_second:
            other = nothing  # the lock held: the other hand has to save again
        meet = books.stopped if other.stops else books.outcomes
        ends = meet(first.parts, other.parts, self.book)
        found = self.look()
        fit = [
            end
            for end, refused, refused_too in ends
            if (refused, refused_too or other is nothing)
            == (no_first, no_second or other is nothing)
            and found == _comparable(end)
        ]
        if not fit:
            raise AssertionError(self._amiss(first, other, moment, found, ends, no_first))
        self.book = fit[0]

    def settle(self) -> None:
        """Bring the file up to date, load and compute: every difference is told, all is fresh."""
        self.together(self.migrate())
        self.together(self.run())
        self.together(self.run())
        left = mishaps.left_over(self.folder)
        if left:
            raise AssertionError(f"nothing swept {left}")

    def look(self) -> tuple[Any, ...]:
        """What is there, in the form of `_comparable`."""
        peek = Store.peek(self.site)
        findings = peek.rows("finding", ["source_table", "row_key", "step"])
        lengths = peek.rows("borehole_path", [HOLE, "length_m"])
        version = peek.settings()["schema_version"]
        return (
            self._rows(self.site),
            {(t, _first(k)) for t, k in peek.rows("loaded", ["source_table", "row_key"])},
            {(str(t), _first(str(k))) for t, k, step in findings if step == "load"},
            {(HOLE, str(name)): float(length) for name, length in lengths},
            sorted((sorted(rows.items()) for rows in self._kept()), key=str),
            version != SCHEMA_VERSION,
        )

    def _rows(self, path: Path) -> dict[Key, float]:
        peek, found = Store.peek(path), {}
        for table, column in COLUMN.items():
            key = HOLE if table == HOLE else "analyte"
            for name, value in peek.rows(table, [key, column]):
                found[table, str(name)] = float(value)
        return found

    def _kept(self) -> list[Rows]:
        """Rows of every safety copy but those taken by hand."""
        for path in self.folder.glob("site.before-*.gpkg"):
            if path not in self._copies:
                self._copies[path] = self._rows(path)
        return [rows for path, rows in self._copies.items() if path.exists()]

    def _edit(self, key: Key, value: float | None) -> None:
        self._sql(self._saving(key, value))

    @staticmethod
    def _saving(key: Key, value: float | None) -> mishaps.Statements:
        """What a GIS does to save one row."""
        table, name = key
        column, by = COLUMN[table], HOLE if table == HOLE else "analyte"
        values: tuple[object, ...]
        if value is None:
            return [(f"DELETE FROM {table} WHERE {by} = ?", (name,))]
        if table == HOLE:
            more = "measuring_point_height_m, x, y, ground_elevation_m, geom"
            values = (0.0, *_place(name), *_shape(name, SRS_ID))
        else:
            more = "unit, basis"
            values = ("ug/L", f"of {name}")
        marks = ", ".join("?" * len(values))
        return [
            # no ON CONFLICT: a key may have further parts, which are empty here
            (f"UPDATE {table} SET {column} = ? WHERE {by} = ?", (value, name)),
            (
                f"INSERT INTO {table} ({by}, {column}, {more}) SELECT ?, ?, {marks} "
                f"WHERE NOT EXISTS (SELECT 1 FROM {table} WHERE {by} = ?)",
                (name, value, *values, name),
            ),
        ]

    def _sql(self, statements: mishaps.Statements) -> None:
        """Save as a GIS does, without waiting for a lock."""
        connection = connect(self.site, seconds=SHORT_S)
        try:
            register_functions(connection)
            connection.execute("BEGIN IMMEDIATE")
            for statement, values in statements:
                connection.execute(statement, values)
            connection.execute("COMMIT")
        except FAULTS as error:
            raise BusyError("site.gpkg", str(error), "no lock", "Save again.") from error
        finally:
            connection.close()

    def _write_files(self, rows: Rows | None = None) -> None:
        files = self.book.files if rows is None else rows
        texts = {HOLE: "borehole,x,y,ground_elevation_m,depth_m\n"}
        texts[CRITERION] = "analyte,value,unit,basis\n"
        for (table, name), value in sorted(files.items()):
            if table == HOLE:
                texts[table] += f"{name},{','.join(map(str, _place(name)))},{value}\n"
            else:
                texts[table] += f"{name},{value},ug/L,of {name}\n"
        for table, text in texts.items():
            (self.folder / FILE[table]).write_text(text, encoding="utf-8")

    def _run(self) -> object:
        return run(self.folder)

    def _amiss(
        self,
        first: Act,
        other: Act,
        moment: str,
        found: tuple[Any, ...],
        ends: Sequence[tuple[Book, bool, bool]],
        refused: bool,
    ) -> str:
        names = ("rows", "loaded", "told", "lengths", "kept", "old")
        lines = [f"{first.words}, and {moment or 'after it'}: {other.words}; refused: {refused}"]
        for end, *refusals in ends:
            lines.append(f"  a possible end (refused: {refusals}) differs in:")
            for name, here, there in zip(names, found, _comparable(end), strict=True):
                if here != there:
                    lines.append(f"    {name}: found {here}, meant {there}")
        return "\n".join(lines)


PATHS = "borehole_path"
SRS_ID = 32632


def _comparable(book: Book) -> tuple[Any, ...]:
    return (
        dict(book.rows),
        set(book.loaded),
        set(book.told),
        dict(book.lengths),
        sorted((sorted(rows.items()) for rows in book.kept), key=str),
        book.is_old,
    )


def _place(name: str) -> tuple[float, float, float]:
    """East, north and elevation of a borehole [m]."""
    return 500_000.0 + 40 * int(name[1:]), 5_300_000.0, 100.0


def _shape(name: str, srs_id: int) -> list[bytes | None]:
    place = np.array([shapely.Point(_place(name))], dtype=object)
    return encode(place, srs_id)


def _is_refused(do: Callable[[], object]) -> bool:
    """Do it; whether it said that it cannot: an older layout, a locked file, or a full disk."""
    try:
        do()
    except (DataError, BusyError, DiskError):
        return True
    return False


@contextlib.contextmanager
def pausing(moment: Moment | None, turn: Callable[[], None]) -> Iterator[None]:
    """Have a turn the first time that a moment is reached."""
    if moment is None:
        yield
        return
    place, name, is_before = moment
    module, _, kind = place.partition(":")
    owner = importlib.import_module(module)
    owner = getattr(owner, kind) if kind else owner
    original, reached = getattr(owner, name), itertools.count()

    def paused(*args: Any, **options: Any) -> Any:
        is_first = next(reached) == 0
        if is_first and is_before:
            turn()
        result = original(*args, **options)
        if is_first and not is_before:
            turn()
        return result

    setattr(owner, name, paused)
    try:
        yield
    finally:
        setattr(owner, name, original)


@contextlib.contextmanager
def _one_layer() -> Iterator[None]:
    """Only the lengths of boreholes are computed, and nothing is drawn."""
    from geoprofile.app import figures
    from geoprofile.plugins import registry

    rooms: Any = registry
    drawing: Any = figures
    every, draw = rooms.plugins, drawing.draw_run

    def few(family: str) -> Any:
        found = every(family)
        return {PATHS: found[PATHS]} if family == "layers" else found

    rooms.plugins = few
    drawing.draw_run = lambda site, folder, progress: Drawn((), ())
    try:
        yield
    finally:
        rooms.plugins, drawing.draw_run = every, draw


def copy_of(yard: Yard, folder: Path) -> Yard:
    """The same yard in another folder."""
    shutil.copytree(yard.folder, folder)
    copy = Yard.__new__(Yard)
    copy.folder, copy.site, copy.book = folder, folder / "site.gpkg", yard.book
    copy.taken = [(folder / path.name, state) for path, state in yard.taken]
    copy._copies = {}
    return copy


def _first(row_key: str) -> str:
    """The first part of a key of several columns, which the model goes by."""
    return str(json.loads(row_key)[0]) if row_key.startswith("[") else row_key
