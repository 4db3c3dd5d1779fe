"""Safety copies: taken with SQLite's own backup, which copies a whole state even in use."""

from __future__ import annotations

import os
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from geoprofile.errors import BusyError, DiskError, UsageError
from geoprofile.store.connection import connect, has_sidecar, sidecar, sweep, told
from geoprofile.store.opening import check_header


def safety_copy(path: str | Path, reason: str = "copy") -> Path:
    """Copy a site file to `NAME.REASON-TIME.gpkg` beside it; the copy's path.

    DiskError when there is no room; the file itself is only read.
    """
    path = Path(path)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")[:-3]
    target = path.with_name(f"{path.stem}.{reason}-{stamp}{path.suffix}")
    beside = path.with_name(f".{target.name}.new")
    try:
        source = connect(path)
        try:
            _back_up(source, beside)
        finally:
            source.close()
        beside.replace(target)
    except sqlite3.Error as error:
        raise told(error, path) from error
    except OSError as error:
        raise DiskError(
            str(target), f"that it cannot be written ({error})", "room and rights", "Check both."
        ) from error
    finally:
        sweep(beside)
    return target


def _back_up(source: sqlite3.Connection, target: Path) -> None:
    sweep(target)
    copy = sqlite3.connect(target, isolation_level=None)
    try:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
    finally:
        copy.close()
    with target.open("rb+") as file:
        os.fsync(file.fileno())


def restore(copy: str | Path, path: str | Path) -> Path | None:
    """Put a safety copy in the place of a site file; the path that the old file was moved to.

    Nothing is lost: the old file is moved aside with its journal. None when there was no file.
    Close every GIS that has the file open first; BusyError when one is seen to edit it.
    """
    copy, path = Path(copy), Path(path)
    check_header(copy)
    if copy.absolute() == path.absolute():
        raise UsageError(str(copy), "the same file twice", "a safety copy", "Name the copy.")
    if not path.exists():
        _copy_over(copy, path)
        return None
    if has_sidecar(path, "-wal"):
        raise BusyError(
            path.name, "that a GIS edits it", "a file nobody writes", "Close the GIS, run again."
        )
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")[:-3]
    aside = path.with_name(f"{path.stem}.damaged-{stamp}{path.suffix}")
    for suffix in ("", "-journal"):  # a journal belongs to its file and would spoil another
        old = sidecar(path, suffix) if suffix else path
        if old.exists():
            old.replace(aside.with_name(aside.name + suffix))
    _copy_over(copy, path)
    return aside


def _copy_over(copy: Path, path: Path) -> None:
    beside = path.with_name(f".{path.name}.new")
    try:
        source = connect(copy)
        try:
            _back_up(source, beside)
        finally:
            source.close()
        beside.replace(path)
    except sqlite3.Error as error:
        raise told(error, copy) from error
    finally:
        sweep(beside)
