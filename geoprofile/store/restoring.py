"""Puts a safety copy back: whole or not at all, and the present state is kept first."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from geoprofile.errors import BusyError, ChangedError, DamagedError, UsageError
from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store.connection import (
    BUSY_SECONDS,
    connect,
    has_sidecar,
    prepare,
    reading,
    sidecar,
    told,
)
from geoprofile.store.inspection import inspect
from geoprofile.store.opening import check_header, in_wal_mode, leave_wal, read_settings
from geoprofile.store.safety_copies import keep, make_copy, needed
from geoprofile.store.sidecars import set_aside_orphans, set_aside_strangers
from geoprofile.whole import real_place

TRIES = 4  # of keeping the present state and writing over it, while another program saves
PAGES = 16  # of a backup at a time, so that it is asked about at least once before it is done
COUNTER_AT, COUNTER_BYTES = 24, 4  # of the change counter in the head of a database
# what another program leaves behind that does not keep the lists of a layer, and a load puts right
STALE_LISTS = ("extent", "count")
OLDER = ("layout", "table", "column")  # what an inspection says of a sound file of an older layout


def restore(
    copy: str | Path, path: str | Path, tell: Callable[[str], None] = lambda remark: None
) -> Path | None:
    """Put a safety copy in the place of a site file; the path where the old state is kept.

    `tell` is told of what lay beside it and had to go. None when there was no file. DamagedError
    for a copy that is not sound, BusyError when a program is editing the file; nothing is changed
    then, and nothing is ever deleted.
    """
    copy, path = Path(copy), real_place(path)
    check_header(copy)
    if copy.resolve() == path.resolve():
        raise UsageError(str(copy), "the same file twice", "a safety copy", "Name the copy.")
    _refuse_damaged(copy)
    if not path.exists():
        for remark in set_aside_orphans(path):
            tell(remark)
        make_copy(copy, path, new=True)
        return None
    for remark in set_aside_strangers(path):
        tell(remark)  # no more than that, as the file may be no database any more
    if has_sidecar(path, "-wal") and not _is_merged(path):
        raise BusyError(
            path.name,
            "that a GIS edits it (-wal)",
            "a file nobody writes",
            "Close the GIS and run again; if none is open, move the file that ends in -wal aside.",
        )
    for _ in range(TRIES - 1):
        with suppress(ChangedError):
            return _replace(copy, path)
    return _replace(copy, path)


def _replace(copy: Path, path: Path) -> Path:
    """Keep the present state, then write over just that; ChangedError if it is another by then."""
    with _counter(path) as counter:
        before = counter()
        kept = keep(path, "before-restore")
        with needed(kept, path):
            is_written = _write_in_place(copy, path, lambda: counter() == before)
    if not is_written:
        # a journal belongs to its file and would corrupt another; it is kept beside the kept file
        sidecar(path, "-journal").unlink(missing_ok=True)
        make_copy(copy, path)
    return kept


@contextmanager
def _counter(path: Path) -> Iterator[Callable[[], bytes]]:
    """What reads the change counter of a file.

    The file stays open throughout: to close it would drop the locks of a connection of ours.
    """
    with path.open("rb", buffering=0) as file:

        def read() -> bytes:
            file.seek(COUNTER_AT)
            return file.read(COUNTER_BYTES)

        yield read


def _is_merged(path: Path) -> bool:
    """Bring rows that an editing program left beside the file into it; False where that fails."""
    try:
        return in_wal_mode(path) and leave_wal(path) and not has_sidecar(path, "-wal")
    except sqlite3.Error:
        return False


def _refuse_damaged(copy: Path) -> None:
    found = [f for f in inspect(copy) if f.severity == "error" and f.code not in STALE_LISTS]
    if not found:
        return
    with reading(copy) as connection:
        version = read_settings(connection, copy).get("schema_version")
    if isinstance(version, int) and version < SCHEMA_VERSION:
        found = [f for f in found if f.code not in OLDER]
    if found:
        raise DamagedError(
            copy.name,
            f"damage ({found[0].place}: {found[0].what})",
            "a sound safety copy; nothing was changed",
            "Choose another copy: 'geoprofile restore' with the site file alone lists them.",
        )


def _write_in_place(copy: Path, path: Path, is_same: Callable[[], bool] = lambda: True) -> bool:
    """Copy page by page into the file in one transaction; False when it is no database any more.

    A GIS that has the file open goes on with the new rows, and a kill leaves the old ones.
    `is_same` is asked once nobody else can write; ChangedError, with nothing changed, if it denies.
    """
    source, target = connect(copy), connect(path)
    try:
        prepare(target)
        target.execute("BEGIN IMMEDIATE")  # told here when another program is writing
        target.execute("ROLLBACK")
        source.backup(target, pages=PAGES, progress=_watch(path, is_same))
    except sqlite3.DatabaseError as error:
        if _is_no_database(error):
            return False
        raise told(error, path) from error
    finally:
        target.close()
        source.close()
    return True


def _watch(path: Path, is_same: Callable[[], bool]) -> Callable[[int, int, int], None]:
    """What is asked after each part of a backup, which holds the lock from the first part on.

    Until then the change counter is that of the state that is about to be replaced. A backup that
    is refused leaves all as it was.
    """
    patience, held = _patience(path), False

    def look(status: int, remaining: int, total: int) -> None:
        nonlocal held
        patience(status, remaining, total)
        if status != sqlite3.SQLITE_OK or held:
            return
        held = True
        if not is_same():
            raise ChangedError(
                path.name,
                "that another program changed it meanwhile",
                "the state that was kept; nothing was changed",
                "Save the edits in the GIS, wait for other commands to end, then run again.",
            )

    return look


def _patience(path: Path) -> Callable[[int, int, int], None]:
    """SQLite's backup waits for another writer for ever; this ends it after the usual time."""
    until = time.monotonic() + BUSY_SECONDS

    def look(status: int, remaining: int, total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > until:
            raise BusyError(
                path.name,
                "that another program is writing it",
                "no other writer; nothing was changed",
                "Save and close the edit session in the GIS, then run again.",
            )

    return look


def _is_no_database(error: sqlite3.DatabaseError) -> bool:
    code = int(getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    return code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT)
