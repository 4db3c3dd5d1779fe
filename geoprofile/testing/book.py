"""What a site file should hold after each command, kept in plain dictionaries.

A model to hold the store to: it knows nothing of SQL, fingerprints or locks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

Key: TypeAlias = tuple[str, str]  # table and key of a row
Rows: TypeAlias = Mapping[Key, float]  # the one value of each row that anybody changes
HOLE = "borehole"  # the table that the computed lengths rest on


class RefusedError(Exception):
    """The command changes nothing and says why."""


@dataclass(frozen=True)
class Book:
    """A site folder and its file.

    `files` are the rows of the files, `rows` those of the site file, `loaded` what each was when it
    was last loaded, `told` the rows on which files and site file differ as far as a load said so,
    `lengths` what was computed from the boreholes, `kept` the rows in safety copies, the earliest
    first, `is_old` whether the tables have an earlier layout.
    """

    files: Rows
    rows: Rows = field(default_factory=dict)
    loaded: Rows = field(default_factory=dict)
    told: frozenset[Key] = frozenset()
    lengths: Rows = field(default_factory=dict)
    kept: tuple[Rows, ...] = ()
    is_old: bool = False


Part: TypeAlias = Callable[[Book], Book]  # what happens at one moment


def edited(key: Key, value: float | None) -> Part:
    """Somebody saves one row in the GIS; None deletes it."""
    return lambda book: replace(book, rows=_with(book.rows, key, value))


def file_changed(key: Key, value: float | None) -> Part:
    """Somebody saves one row of a file; None deletes it."""
    return lambda book: replace(book, files=_with(book.files, key, value))


def _with(rows: Rows, key: Key, value: float | None) -> Rows:
    rest = {k: v for k, v in rows.items() if k != key}
    return rest if value is None else {**rest, key: value}


def made_old(book: Book) -> Book:
    """A file of an earlier layout takes the place of this one, with the same rows."""
    return replace(book, is_old=True)


def migrated(book: Book) -> Book:
    """Tables of the present layout; the rows stay, and a copy of them is kept."""
    if not book.is_old:
        return book
    return replace(book, is_old=False, kept=(*book.kept, book.rows))


def computed(book: Book) -> Book:
    """Lengths of the boreholes as they are now."""
    if book.is_old:
        raise RefusedError
    return replace(book, lengths={k: v for k, v in book.rows.items() if k[0] == HOLE})


def restored(state: Book) -> Part:
    """A copy that was taken at a `state` is put back; what was there is kept."""

    def put_back(book: Book) -> Book:
        return replace(state, files=book.files, kept=(*book.kept, book.rows))

    return put_back


def exchanged(state: Book) -> Part:
    """A copy that was taken at a `state` is put in the place of the file by hand."""
    return lambda book: replace(state, files=book.files, kept=book.kept)


def loaded(prefer: str | None = None, *, prune: bool = False) -> Part:
    """All files are loaded: what only they changed is taken, all other differences are told."""

    def load(book: Book) -> Book:
        if book.is_old:
            raise RefusedError
        rows, known, told = dict(book.rows), dict(book.loaded), set()
        undone = 0
        for key, new in book.files.items():
            last, here = known.get(key), rows.get(key)
            if new == here:
                known[key] = new
            elif prefer == "files" or last == here:
                undone += last != here
                rows[key] = known[key] = new
            else:
                told.add(key)
                if prefer == "database":
                    known[key] = new
        for key in set(known) - set(book.files):
            is_as_loaded = rows.get(key) == known[key]
            if key not in rows:
                del known[key]
            elif prune and (is_as_loaded or prefer == "files"):
                undone += 1
                del rows[key], known[key]
            elif not prune or prefer != "database":
                told.add(key)
        told |= set(rows) - set(book.files) - set(book.loaded)
        kept = (*book.kept, book.rows) if undone else book.kept
        return replace(book, rows=rows, loaded=known, told=frozenset(told), kept=kept)

    return load


def outcomes(
    first: Sequence[Part], second: Sequence[Part], book: Book
) -> list[tuple[Book, bool, bool]]:
    """Every state in which two commands may leave a book, the second at any moment of the first.

    With each state, whether the first and the second command were refused.
    """
    found = []
    for turn in range(len(first) + 1):
        state, no_first = _after(first[:turn], book)
        state, no_second = _after(second, state)
        if not no_first:
            state, no_first = _after(first[turn:], state)
        found.append((state, no_first, no_second))
    return found


def stopped(first: Sequence[Part], _: Sequence[Part], book: Book) -> list[tuple[Book, bool, bool]]:
    """Every state in which a command may leave a book that has no room from some moment on.

    It is refused after some of its parts, or gets to its end without more room.
    """
    found = [(_after(first[:turn], book)[0], True, False) for turn in range(len(first) + 1)]
    return [*found, (*_after(first, book), False)]


def _after(parts: Sequence[Part], book: Book) -> tuple[Book, bool]:
    for part in parts:
        try:
            book = part(book)
        except RefusedError:
            return book, True
    return book, False
