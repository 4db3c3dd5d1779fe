"""A `-wal`, `-journal` or `-shm` that is not of the file beside it would corrupt that file.

A program that was killed leaves them; they are of use to its own file only. Moved aside under a
name of their own they harm nothing, and can be put back with their file.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from geoprofile.store.connection import sidecar

SUFFIXES = ("-wal", "-journal", "-shm")
LOOKS, BETWEEN_S = 3, 0.03  # a program that has the file open right now may be in between
JOURNAL_MAGIC = bytes.fromhex("d9d505f920a163d7")
STAMP = "%Y%m%dT%H%M%S%f"
COUNTER = slice(24, 28)  # of the first page: raised by one with every commit
PAGES, VALID_FOR = slice(28, 32), 92  # of the first page: how many there are, since which commit


def set_aside_orphans(path: Path) -> tuple[str, ...]:
    """Move sidecars aside that have no file; a remark that names them.

    To be called before anything is put at `path`.
    """
    if path.exists():
        return ()
    return _set_aside(path, [s for s in SUFFIXES if os.path.lexists(sidecar(path, s))], "no file")


def set_aside_strangers(path: Path) -> tuple[str, ...]:
    """Move sidecars aside that are not of this file; a remark that names them.

    A file whose head says that it keeps no -wal has none, unless it is another's. A journal holds
    the first page as it was: this file's own, or the one before it.
    """
    found = strangers(path)
    if "-wal" in found and os.path.lexists(sidecar(path, "-shm")):
        found.append("-shm")
    return _set_aside(path, found, "another file")


def strangers(path: Path) -> list[str]:
    """The endings of the sidecars that are not of this file."""
    return [s for s in ("-wal", "-journal") if _is_strange(path, s)]


def _set_aside(path: Path, suffixes: list[str], whose: str) -> tuple[str, ...]:
    stamp, names = datetime.now(UTC).strftime(STAMP)[:-3], []
    for suffix in suffixes:
        part = sidecar(path, suffix)
        kept = part.with_name(f"{part.name}.left-{stamp}")
        with contextlib.suppress(FileNotFoundError):
            size = part.stat().st_size
            if suffix == "-shm" or not size:
                part.unlink()  # holds no row
                continue
            part.rename(kept)
            names.append(kept.name)
    if not names:
        return ()
    said = "without their file" if whose == "no file" else "that belong to another file"
    return (
        f"Found what a stopped program left beside {path.name}, {said}: it was moved aside to "
        f"{', '.join(names)}. It may hold edits that were not yet in the file that is gone; keep "
        "it until you know.",
    )


def _is_strange(path: Path, suffix: str) -> bool:
    """Whether the sidecar is another file's, at several looks one after the other."""
    look = _is_foreign_wal if suffix == "-wal" else _is_foreign_journal
    for number in range(LOOKS):
        if number:
            time.sleep(BETWEEN_S)
        try:
            if not look(path, sidecar(path, suffix)):
                return False
        except OSError:
            return False
    return True


def _is_foreign_wal(path: Path, wal: Path) -> bool:
    wal.stat()  # an OSError where it is gone; an empty one counts, since nobody else removes it
    with path.open("rb") as file:
        head = file.read(20)
    return len(head) == 20 and 2 not in (head[18], head[19])


def _is_foreign_journal(path: Path, journal: Path) -> bool:
    """Whether what a journal holds is of another file.

    The first page of a file is written last of all, with its counter raised: until then it is, byte
    for byte, what the journal keeps of it, or as long as the journal says where it keeps none.
    """
    with journal.open("rb") as file:
        head = file.read(28)
        if len(head) < 28 or head[:8] != JOURNAL_MAGIC:
            return False
        length, sector, page = (int.from_bytes(head[i : i + 4], "big") for i in (16, 20, 24))
        if not (512 <= page <= 65536 and 32 <= sector <= 65536):
            return False
        first = _first_page(file, sector, page)
    with path.open("rb") as file:
        own = file.read(page)
    if len(own) < page:
        return False
    size = 65536 if own[16:18] == b"\x00\x01" else int.from_bytes(own[16:18], "big")
    if size != page:
        return True
    if first is None:
        return int.from_bytes(own[PAGES], "big") != length
    then, now = (int.from_bytes(one[COUNTER], "big") for one in (first, own))
    if now == then:
        return first != own
    return now != then + 1 or first[16:24] != own[16:24]


def set_apart(path: Path) -> None:
    """Let the change counter of a file that is just being made begin anywhere.

    Files that are made alike begin alike, and the journal of one would pass for that of another.
    """
    counter = secrets.randbelow(1 << 31).to_bytes(4, "big")
    with path.open("r+b") as file:
        file.seek(COUNTER.start)
        file.write(counter)
        file.seek(VALID_FOR)  # the length in the head counts only where both agree
        file.write(counter)


def _first_page(stream: BinaryIO, sector: int, page: int) -> bytes | None:
    """The first page of the database among the pages that follow the journal's head."""
    stream.seek(sector)
    while len(record := stream.read(4 + page + 4)) == 4 + page + 4:
        if int.from_bytes(record[:4], "big") == 1:
            return record[4 : 4 + page]
    return None
