"""One way to open the site file with SQLite, and to tell what SQLite answers in our own errors."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from geoprofile.errors import BusyError, DamagedError, DataError, DiskError, GeoprofileError
from geoprofile.store.blobs import bounds_of_blob

BUSY_SECONDS = 10.0
# what a damaged file makes SQLite answer; its own message may be no UTF-8
FAULTS = (sqlite3.Error, UnicodeDecodeError)
# what a file can make SQLite do: no text or blob above so many bytes, no cascade of triggers, no
# other file, and no more processor time than a sound file of its size could take
MOST_BYTES = 1 << 28
LIMITS = (
    (sqlite3.SQLITE_LIMIT_LENGTH, MOST_BYTES),
    (sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 10),
    (sqlite3.SQLITE_LIMIT_ATTACHED, 0),
)
LEAST_CPU_S, CPU_S_PER_MB = 120.0, 5.0
STEPS = 1_000_000  # instructions of SQLite between two looks at the clock
CACHE_KIB = 262144  # pages stay in memory until the commit, so a copy of the file is rarely torn


def quoted(name: str) -> str:
    """A table or column name as SQL writes it; a name that cannot be one is damage."""
    if "\x00" in name:
        raise DamagedError(
            "site file", f"the name {name!r}", "names without control characters", "Rename it."
        )
    return '"' + name.replace('"', '""') + '"'


@contextmanager
def reading(path: Path, *, undo: bool = True) -> Iterator[sqlite3.Connection]:
    """A connection that only reads, sees one state throughout, and distrusts the file's own SQL.

    `undo` lets the write of a program that was stopped a moment ago be undone first.
    """
    with telling(path):
        connection = _open_to_read(path, undo=undo)
        try:
            limit_work(connection, path)
            connection.execute("PRAGMA query_only=ON")
            connection.execute("PRAGMA trusted_schema=OFF")
            connection.execute("PRAGMA cell_size_check=ON")
            connection.execute("BEGIN")
            yield connection
        finally:
            connection.close()


@contextmanager
def writing(path: Path, *, rebuild: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection inside one write transaction: committed at the end, undone on any error.

    `rebuild` lets a table be dropped and another take its name, with what refers to it left as is.
    """
    with telling(path):
        connection = connect(path)
        try:
            prepare(connection)
            limit_work(connection, path)
            if rebuild:
                connection.execute("PRAGMA foreign_keys=OFF")
                connection.execute("PRAGMA legacy_alter_table=ON")
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            if connection.in_transaction:
                connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
        finally:
            connection.close()


def limit_work(connection: sqlite3.Connection, path: Path) -> None:
    """End what takes more memory or processor time than a sound file of that size could ask for."""
    for kind, most in LIMITS:
        connection.setlimit(kind, most)
    allowed = LEAST_CPU_S + CPU_S_PER_MB * path.stat().st_size / 1e6
    began = time.thread_time()
    connection.set_progress_handler(lambda: time.thread_time() - began > allowed, STEPS)


def connect(path: Path, *, seconds: float | None = None) -> sqlite3.Connection:
    """A plain connection to an existing file, without Python's own transactions.

    It waits `seconds` for another program's lock, by default as long as a save may take.
    """
    wait = BUSY_SECONDS if seconds is None else seconds
    return sqlite3.connect(_uri(path, "rw"), uri=True, isolation_level=None, timeout=wait)


def prepare(connection: sqlite3.Connection) -> None:
    """Safe settings for a writer, and the functions that the spatial index triggers call."""
    for pragma in (
        "foreign_keys=ON",
        "synchronous=FULL",
        f"cache_size=-{CACHE_KIB}",
        "cell_size_check=ON",
        "recursive_triggers=OFF",
    ):
        connection.execute(f"PRAGMA {pragma}")
    register_functions(connection)


def register_functions(connection: sqlite3.Connection) -> None:
    """ST_IsEmpty, ST_MinX, ST_MaxX, ST_MinY and ST_MaxY of a geometry blob."""
    for place, name in enumerate(("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY")):

        def edge(blob: bytes | None, place: int = place) -> float | None:
            box = bounds_of_blob(blob)
            return None if box is None else box[place]

        connection.create_function(name, 1, edge, deterministic=True)
    connection.create_function(
        "ST_IsEmpty",
        1,
        lambda blob: None if blob is None else int(bounds_of_blob(blob) is None),
        deterministic=True,
    )


def has_sidecar(path: Path, suffix: str) -> bool:
    """Whether a `-journal` or `-wal` with content lies beside the file."""
    try:
        return sidecar(path, suffix).stat().st_size > 0
    except FileNotFoundError:
        return False


def sidecar(path: Path, suffix: str) -> Path:
    """The `-journal` or `-wal` of a file, which lies beside the file itself, not beside a link."""
    real = path.resolve()
    return real.with_name(real.name + suffix)


def sweep(path: Path) -> None:
    """Remove a half-made file with its journal, which would corrupt the next of that name."""
    for suffix in ("-journal", "-wal", "-shm", ""):
        part = path.with_name(path.name + suffix)
        if part.exists():  # a folder that takes no file does not take the order to remove one
            part.unlink()


def state_of(path: Path) -> tuple[bytes, int, int]:
    """What changes whenever a program commits: the change counter, size and time of the -wal.

    Never to be asked while a connection of ours is open: closing the file would drop its locks.
    """
    with path.open("rb") as file:
        counter = file.read(28)[24:]
    try:
        found = sidecar(path, "-wal").stat()
    except FileNotFoundError:
        return counter, 0, 0
    return counter, found.st_size, found.st_mtime_ns


def _open_to_read(path: Path, *, undo: bool = False) -> sqlite3.Connection:
    """Open read-only; a file in WAL mode in a folder that cannot be written is read as it lies."""
    connection = sqlite3.connect(
        _uri(path, "ro"), uri=True, isolation_level=None, timeout=BUSY_SECONDS
    )
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        if undo and _primary(error) == sqlite3.SQLITE_READONLY and has_sidecar(path, "-journal"):
            _undo(path)
            return _open_to_read(path)
        if has_sidecar(path, "-wal") or has_sidecar(path, "-journal"):
            raise
        if _primary(error) != sqlite3.SQLITE_CANTOPEN:
            raise
        uri = _uri(path, "ro") + "&immutable=1"
        return sqlite3.connect(uri, uri=True, isolation_level=None)
    except FAULTS:
        connection.close()
        raise
    return connection


def _undo(path: Path) -> None:
    """Have SQLite undo the write of a program that is gone, which only a writer may."""
    connection = connect(path)
    try:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("ROLLBACK")
    finally:
        connection.close()


def _uri(path: Path, mode: str) -> str:
    return f"{path.absolute().as_uri()}?mode={mode}"


def _primary(error: Exception) -> int:
    """The primary result code of an error, 0 where SQLite gave none."""
    return int(getattr(error, "sqlite_errorcode", None) or 0) & 0xFF


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Turn an error of SQLite or of the disk into one of ours that says what to do."""
    try:
        yield
    except (*FAULTS, OSError) as error:
        raise told(error, path) from error


def told(error: Exception, path: Path) -> GeoprofileError:
    """The error of ours that says what SQLite or the disk meant and what to do."""
    code = sqlite3.SQLITE_IOERR if isinstance(error, OSError) else _primary(error)
    for codes, kind, found, expected, advice in ANSWERS:
        if code in codes:
            return kind(path.name, found.format(error), expected, advice)
    return DamagedError(
        path.name,
        f"damage ({error})",
        "a sound site file; nothing was changed",
        "Run 'geoprofile check' on it, or put back a safety copy.",
    )


WORK_ADVICE = "Look at it with 'geoprofile check', or put back a safety copy."
Answer = tuple[tuple[int, ...], type[GeoprofileError], str, str, str]
ANSWERS: tuple[Answer, ...] = (
    (
        (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED),
        BusyError,
        "that another program is writing it",
        "no other writer; nothing was changed",
        "Save and close the edit session in the GIS, then run again.",
    ),
    (
        (sqlite3.SQLITE_INTERRUPT, sqlite3.SQLITE_TOOBIG),
        DamagedError,
        "that it asks for more work or memory than a sound file of its size",
        "a site file that geoprofile or a GIS made; nothing was changed",
        WORK_ADVICE,
    ),
    (
        (sqlite3.SQLITE_FULL,),
        DiskError,
        "no room left on the disk",
        "room for the new rows; nothing was changed",
        "Free some space, then run again.",
    ),
    (
        (
            sqlite3.SQLITE_READONLY,
            sqlite3.SQLITE_CANTOPEN,
            sqlite3.SQLITE_IOERR,
            sqlite3.SQLITE_PERM,
        ),
        DiskError,
        "that the disk or folder refused ({})",
        "a file and folder that can be read and written; nothing was changed",
        "Check the permissions and the disk, then run again.",
    ),
    (
        (sqlite3.SQLITE_CONSTRAINT,),
        DataError,
        "a row that breaks a rule of its table ({})",
        "rows that obey the rules; nothing was changed",
        "Correct the row, then run again.",
    ),
)
