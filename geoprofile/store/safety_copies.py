"""Safety copies: taken with SQLite's own backup, which copies a whole state even in use."""

from __future__ import annotations

import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from geoprofile.errors import BusyError, DamagedError, DataError, DiskError, GeoprofileError
from geoprofile.schema import DERIVED, INPUT
from geoprofile.store.connection import connect, reading, state_of, telling, told
from geoprofile.store.fingerprints import columns_of, count_of, fingerprint
from geoprofile.store.opening import settle
from geoprofile.store.sidecars import set_apart
from geoprofile.whole import flush, private_folder, publish_new

COPY_NAME = re.compile(r"\.(?P<reason>[a-z]+(-[a-z]+)*)-(?P<stamp>\d{8}T\d{6})(?P<ms>\d{3})$")
STAMP = "%Y%m%dT%H%M%S"


@dataclass(frozen=True)
class SafetyCopy:
    """One safety copy: why and when it was taken, and where its rows differ from the present."""

    path: Path
    reason: str
    taken_at: str
    differs: str


def safety_copy(path: str | Path, reason: str = "copy") -> Path:
    """Copy a site file to `NAME.REASON-TIME.gpkg` beside it; the copy's path.

    DiskError when there is no room; the file itself is only read.
    """
    path = Path(path)
    target = name_beside(path, reason)
    make_copy(path, target)
    return target


def keep(path: Path, reason: str) -> Path:
    """Keep the present state of a file, byte by byte where it cannot be read; the copy's path."""
    try:
        return safety_copy(path, reason)
    except DamagedError:
        target = name_beside(path, "damaged")
        for suffix in ("", "-journal", "-wal"):
            part = path.with_name(path.name + suffix)
            if part.exists():
                shutil.copy2(part, target.with_name(target.name + suffix))
        return target


@contextmanager
def needed(copy: Path | None, path: Path) -> Iterator[None]:
    """Write what a safety copy was taken for; where that changes nothing, the copy goes again.

    To be begun with none of the file open.
    """
    before = state_of(path)
    try:
        yield
    except GeoprofileError as error:
        is_refused = isinstance(error, (BusyError, DataError))  # before anything was written
        if copy is not None and (is_refused or _is_still(path, before)):
            copy.unlink(missing_ok=True)
        raise


def _is_still(path: Path, before: tuple[bytes, int, int]) -> bool:
    """Whether nothing was committed since, as far as can be told."""
    try:
        return state_of(path) == before
    except OSError:
        return False


def name_beside(path: Path, reason: str) -> Path:
    """The name of a safety copy that is taken now."""
    stamp = datetime.now(UTC).strftime(STAMP + "%f")[:-3]
    return path.with_name(f"{path.stem}.{reason}-{stamp}{path.suffix}")


def make_copy(path: Path, target: Path, *, new: bool = False) -> None:
    """Copy a whole state of a site file to a place, which it takes in one move.

    BusyError when the place was to be `new` and another program has put a file there meanwhile.
    """
    try:
        with private_folder(target.parent) as work:
            beside = work / target.name
            source = connect(path)
            try:
                _back_up(source, beside)
            finally:
                source.close()
            set_apart(beside)
            if new and not publish_new(beside, target):
                raise BusyError(
                    target.name,
                    "a file that another program has just put there",
                    "no file, as a moment ago; nothing was changed",
                    "Look at it, then run again.",
                )
            if not new:
                flush(beside)
                beside.replace(target)
                flush(target.parent)
    except sqlite3.Error as error:
        raise told(error, path) from error
    except OSError as error:
        raise DiskError(
            str(target), f"that it cannot be written ({error})", "room and rights", "Check both."
        ) from error


def _back_up(source: sqlite3.Connection, target: Path) -> None:
    copy = sqlite3.connect(target, isolation_level=None)
    try:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")
    finally:
        copy.close()


def copies_of(path: str | Path) -> list[SafetyCopy]:
    """The safety copies beside a site file, the latest first."""
    path = Path(path)
    with suppress(GeoprofileError), telling(path):
        settle(path)
    present = _contents(path) if path.exists() else {}
    found = []
    for copy in path.parent.iterdir():
        match = COPY_NAME.search(copy.stem)
        if match is None or copy.suffix != path.suffix or copy.stem[: match.start()] != path.stem:
            continue
        moment = datetime.strptime(match["stamp"], STAMP)
        differs = _difference(_contents(copy), present)
        found.append(SafetyCopy(copy, match["reason"], moment.isoformat() + "Z", differs))
    return sorted(found, key=lambda c: (c.taken_at, c.path.name), reverse=True)


@dataclass(frozen=True)
class _Content:
    """Rows and columns of a table, and the fingerprint of an input table."""

    rows: int = 0
    columns: tuple[str, ...] = ()
    fingerprint: str = ""


Contents = dict[str, _Content]


def _contents(path: Path) -> Contents | str:
    """What each table holds; what is wrong, if the file is damaged."""
    try:
        with reading(path) as connection:
            return {
                t.name: _Content(
                    count_of(connection, t.name),
                    tuple(columns),
                    fingerprint(connection, t.name) if t.owner == "input" else "",
                )
                for t in (*INPUT, *DERIVED)
                if (columns := columns_of(connection, t.name))
            }
    except GeoprofileError as error:
        return f"it cannot be read: {error.problem.found}"


def _difference(copy: Contents | str, present: Contents | str) -> str:
    if isinstance(copy, str):
        return copy
    if isinstance(present, str):
        return "the present file cannot be read"
    words = []
    for name in dict.fromkeys((*present, *copy)):
        then, now = copy.get(name, _Content()), present.get(name, _Content())
        if then.rows != now.rows:
            words.append(f"{name} {then.rows} rows, now {now.rows}")
        elif then.columns == now.columns and then.fingerprint != now.fingerprint:
            words.append(f"{name} other values")
        elif then.rows and then.columns != now.columns:
            words.append(f"{name} other columns")
    return "; ".join(words) or "nothing"
