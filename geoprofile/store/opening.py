"""What is looked at before a site file is trusted: header, sidecars, version, foreign SQL."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path

from geoprofile.errors import DamagedError, DataError, UsageError
from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store.connection import connect, has_sidecar, reading, sidecar, telling
from geoprofile.store.core import APPLICATION_ID, USER_VERSION
from geoprofile.store.shared_places import notices
from geoprofile.store.sidecars import set_aside_strangers
from geoprofile.whole import sweep

HEADER_BYTES = 100
COMMIT_SECONDS = 0.05  # [s] a commit under way is over by then, or still holds the lock
SHORT_WAIT = 0.2  # [s], for what can as well be done at the next opening
SQLITE_MAGIC = b"SQLite format 3\x00"
REPAIRED = (
    "An earlier write was interrupted; the state before it has been restored. "
    "Run the interrupted command again."
)
WAL_HELD = (
    "A GIS has the file open for editing: reload its layers to see new rows, and copy the file "
    "only after closing the GIS, for some rows are kept beside it (-wal) until then."
)
MEANWHILE = (
    "Another program changed the file right after this write, so the written layers could not be "
    "compared; run 'geoprofile check' once it is done."
)
NOT_READ_BACK = (
    "The name of the folder is no valid text, which the libraries that read a file back for "
    "comparison do not take: the rows are stored, but a GIS may not open the file there. Rename it."
)
COPY_ADVICE = "Look at it with 'geoprofile check', or put back a copy with 'geoprofile restore'."


_settled: list[str] = []


@dataclass(frozen=True)
class Opened:
    """What opening found out: the site's settings, and remarks for the user."""

    site: dict[str, object]
    remarks: tuple[str, ...]


def open_checked(path: Path) -> Opened:
    """Check that the file is a sound site file of this version; undo an interrupted write."""
    remarks: list[str] = []
    with telling(path):
        check_header(path)
        remarks += map(str, notices(path))
        remarks += settle(path)
        if in_wal_mode(path) and not leave_wal(path):
            remarks.append(WAL_HELD)
    with reading(path) as connection:
        site = read_settings(connection, path)
    check_version(site, path)
    return Opened(site, tuple(remarks))


def settle(path: Path) -> list[str]:
    """Undo or move aside what stopped programs left beside a file; what the user should know.

    To be called before anything of a file is read or written, and with none of it open.
    """
    remarks: list[str] = []
    if os.access(path.parent, os.W_OK):
        sweep(path.parent)
        remarks += set_aside_strangers(path)
        if has_sidecar(path, "-journal"):
            if recover(path):
                remarks.append(REPAIRED)
            check_header(path)
    _settled.extend(remarks)
    return remarks


def take_settled() -> list[str]:
    """What has been undone or moved aside since this was last asked, whichever step it was for."""
    found = [*_settled]
    _settled.clear()
    return found


def refuse_missing(path: Path) -> None:
    """UsageError where there is no file: what is not there is not damaged."""
    if not path.is_file():
        raise UsageError(
            str(path),
            "no file",
            "a site file",
            "Check the name, or create one with 'geoprofile create'.",
        )


def check_header(path: Path) -> None:
    """DamagedError unless the first bytes and the length are those of a GeoPackage.

    UsageError where there is no file.
    """
    refuse_missing(path)
    with path.open("rb") as file:
        head = file.read(HEADER_BYTES)
    if len(head) < HEADER_BYTES or head[:16] != SQLITE_MAGIC:
        raise _damaged(path, "a file of another kind", "a GeoPackage")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise _damaged(path, "the database of another program", "a GeoPackage")
    version = int.from_bytes(head[60:64], "big")
    if not 10200 <= version < 20000:
        raise _damaged(path, f"GeoPackage version {version}", f"{USER_VERSION}")
    _check_length(path, head)


def _check_length(path: Path, head: bytes) -> None:
    page = int.from_bytes(head[16:18], "big")
    page_bytes = 65536 if page == 1 else page
    pages = int.from_bytes(head[28:32], "big")
    is_current = head[24:28] == head[92:96]  # the page count counts only where these agree
    busy = has_sidecar(path, "-journal") or has_sidecar(path, "-wal")
    if is_current and not busy and path.stat().st_size < pages * page_bytes:
        raise _damaged(
            path, f"{path.stat().st_size} bytes", f"{pages * page_bytes} bytes: it was cut off"
        )


def _damaged(path: Path, found: str, expected: str) -> DamagedError:
    return DamagedError(path.name, found, expected, COPY_ADVICE)


def recover(path: Path) -> bool:
    """Let SQLite undo an interrupted write; whether there was one.

    The journal of a program that is writing now goes away by itself, or holds the lock: it is left.
    A write that was stopped before it touched the file leaves a journal with an empty head: SQLite
    ignores it, and it is removed while nobody else can write.
    """
    if has_sidecar(path, "-journal"):
        time.sleep(COMMIT_SECONDS)
    if not has_sidecar(path, "-journal"):
        return False
    connection = connect(path, seconds=0)
    try:
        connection.execute("BEGIN IMMEDIATE")  # undoes the write of a program that is gone
        _remove_stale(sidecar(path, "-journal"))
        connection.execute("ROLLBACK")
    except sqlite3.OperationalError:
        return False
    finally:
        connection.close()
    return not has_sidecar(path, "-journal")


def _remove_stale(journal: Path) -> None:
    with contextlib.suppress(FileNotFoundError):
        with journal.open("rb") as file:
            is_stale = not any(file.read(8))
        if is_stale:
            journal.unlink()


def in_wal_mode(path: Path) -> bool:
    """Whether the header says that new rows go to a file beside this one."""
    with path.open("rb") as file:
        head = file.read(20)
    return 2 in (head[18], head[19])


def leave_wal(path: Path) -> bool:
    """Bring the rows in -wal into the file and switch back; False while a program holds it."""
    if not os.access(path, os.W_OK) or not os.access(path.parent, os.W_OK):
        return True  # nobody can write here, so nothing can be lost either
    connection = connect(path, seconds=SHORT_WAIT)
    try:
        mode = connection.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except sqlite3.OperationalError:
        return False
    finally:
        connection.close()
    return str(mode) == "delete"


def read_settings(connection: sqlite3.Connection, path: Path) -> dict[str, object]:
    """Table `site` as a mapping; DamagedError when it is missing or no JSON."""
    kind = connection.execute("SELECT type FROM sqlite_master WHERE name = 'site'").fetchone()
    if kind is None or kind[0] != "table":
        raise DamagedError(
            path.name,
            "a GeoPackage without table 'site'",
            "one that geoprofile made",
            "Create a site with 'geoprofile create' and load the tables into it.",
        )
    try:
        return {n: json.loads(v) for n, v in connection.execute("SELECT name, value FROM site")}
    except (json.JSONDecodeError, TypeError, RecursionError) as error:
        raise _damaged(
            path, f"a setting that is no JSON ({error})", "JSON in table site"
        ) from error


def check_version(site: dict[str, object], path: Path) -> None:
    """DamagedError for tables laid out by a newer geoprofile, DataError by an older one."""
    version = site.get("schema_version")
    if version == SCHEMA_VERSION:
        return
    found, expected = f"table layout {version}", f"table layout {SCHEMA_VERSION}"
    if isinstance(version, int) and version < SCHEMA_VERSION:
        raise DataError(
            path.name,
            f"{found}, that of an older geoprofile",
            expected,
            f"Bring it up to date with 'geoprofile migrate {path}', which takes a safety copy.",
        )
    raise DamagedError(path.name, found, expected, "Update geoprofile; nothing was changed.")
