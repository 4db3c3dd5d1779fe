"""The one door through which files are written: whole or not at all, and never through a link.

What is being written lies in a private folder beside its place, whose name says by whom. It is on
the disk before it takes its place in one move. What a process that is gone left behind is swept.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import platform
import re
import secrets
import shutil
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from geoprofile.errors import DiskError, GeoprofileError

PREFIX = ".being-written-"
OWNED = re.compile(re.escape(PREFIX) + r"(?P<host>[0-9a-f]{8})-(?P<pid>\d+)-[0-9a-f]{12}$")
REPLACED = "replaced"  # in a private folder: what stood in the place until the new one does
STALE_S = 86400.0  # [s], after which what a process of another machine left is taken for dead
# result codes of SQLite, as its documentation lists them, that are the disk's doing
SQLITE_OF_THE_DISK = {
    13: errno.ENOSPC,  # full
    10: errno.EIO,  # input or output failed
    8: errno.EROFS,  # read-only
    14: errno.EACCES,  # cannot be opened
}
NO_LINKS = (errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.EACCES, errno.EINVAL)


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A path to write to; it takes the place of `target` once it is whole and on the disk.

    DiskError when the disk or folder refuses; nothing is changed then.
    """
    with whole_files([target]) as (beside,):
        yield beside


@contextmanager
def whole_files(targets: Sequence[Path]) -> Iterator[tuple[Path, ...]]:
    """A path to write to for each target; all take their places once all are whole."""
    if not targets:
        yield ()
        return
    with refusing(targets[0]), private_folder(targets[0].parent) as work:
        besides = []
        for number, target in enumerate(targets):
            (work / str(number)).mkdir()
            besides.append(work / str(number) / target.name)
        yield tuple(besides)
        _put(besides, targets)


def take_place(besides: Sequence[Path], targets: Sequence[Path]) -> bool:
    """Give whole files their places; whether they could be moved there, which another disk bars."""
    with refusing(targets[0]):
        try:
            _put(besides, targets)
        except OSError as error:
            if error.errno != errno.EXDEV:
                raise
            return False
    return True


def _put(besides: Sequence[Path], targets: Sequence[Path]) -> None:
    for beside in besides:
        flush(beside)
    for beside, target in zip(besides, targets, strict=True):
        target.parent.mkdir(parents=True, exist_ok=True)
        beside.replace(target)
    for folder in dict.fromkeys(target.parent for target in targets):
        flush(folder)


def write_text(target: Path, text: str, *, newline: str | None = None) -> None:
    """Write a text as UTF-8: all of it, or nothing."""
    with whole_file(target) as beside:
        beside.write_text(text, encoding="utf-8", newline=newline)


@contextmanager
def private_folder(place: Path) -> Iterator[Path]:
    """An empty folder of ours alone on the same disk as `place`, gone afterwards."""
    place.mkdir(parents=True, exist_ok=True)
    sweep(place)
    work = place / f"{PREFIX}{_host()}-{os.getpid()}-{secrets.token_hex(6)}"
    work.mkdir(mode=0o700)  # fails if the name is taken, be it by a link
    try:
        yield work
    finally:
        _remove(work)


def real_place(path: str | Path) -> Path:
    """The place that a name stands for: that of the file itself where the name is a link to it."""
    path = Path(path)
    return path.resolve() if path.is_symlink() else path


def publish_new(beside: Path, target: Path) -> bool:
    """Give a whole file its name unless something has that name; whether it got it."""
    flush(beside)
    try:
        if os.link in os.supports_follow_symlinks:
            os.link(beside, target, follow_symlinks=False)
        else:  # `beside` is a file of our own, no link
            os.link(beside, target)
    except FileExistsError:
        return False
    except OSError as error:
        if error.errno not in NO_LINKS:
            raise
        if os.path.lexists(target):  # a disk without hard links: the next best
            return False
        beside.rename(target)
    flush(target.parent)
    return True


def flush(path: Path) -> None:
    """Have a file or folder on the disk; folders only where the system knows how."""
    if path.is_dir():
        if sys.platform == "win32":
            return
        with contextlib.suppress(OSError):  # some network disks do not flush folders
            _flush(os.open(path, os.O_RDONLY | os.O_DIRECTORY))
        return
    _flush(os.open(path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0)))


def flush_all(paths: Iterable[Path]) -> None:
    """Have many files on the disk: at once where the system knows how, else one by one."""
    if hasattr(os, "sync"):
        os.sync()
        return
    for path in paths:
        with contextlib.suppress(FileNotFoundError):  # taken away meanwhile
            flush(path)


def _flush(descriptor: int) -> None:
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def sweep(place: Path) -> None:
    """Remove what processes that are gone left half-made in a folder.

    What such a process had moved out of the way without putting the new one there goes back.
    """
    with contextlib.suppress(OSError), os.scandir(place) as entries:
        left = [Path(e.path) for e in entries if _is_dead(e)]
        for work in left:
            _remove(work)


def _remove(work: Path) -> None:
    """Remove a private folder; what it holds from a place that is now empty goes back first."""
    with contextlib.suppress(OSError):
        for old in (work / REPLACED).iterdir() if (work / REPLACED).is_dir() else ():
            if not os.path.lexists(work.parent / old.name):
                old.rename(work.parent / old.name)
    shutil.rmtree(work, ignore_errors=True)


def _is_dead(entry: os.DirEntry[str]) -> bool:
    found = OWNED.match(entry.name)
    if found is None or not entry.is_dir(follow_symlinks=False):
        return False
    if found["host"] == _host() and sys.platform != "win32":
        return not _is_running(int(found["pid"]))
    return time.time() - entry.stat(follow_symlinks=False).st_mtime > STALE_S


def _is_running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _host() -> str:
    """The machine and its set of process numbers, in eight characters."""
    parts = [platform.node()]
    with contextlib.suppress(OSError):
        parts.append(str(Path("/proc/self/ns/pid").readlink()))
    with contextlib.suppress(OSError):
        parts.append(Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii"))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:8]


@contextmanager
def refusing(place: Path) -> Iterator[None]:
    """Tell what the disk refuses, also where a library hides it behind an error of its own."""
    try:
        yield
    except GeoprofileError:
        raise
    except Exception as error:
        fault = disk_fault(error)
        if fault is None:
            raise
        raise DiskError(
            str(place),
            f"that the disk or folder refused ({fault.strerror or fault})",
            "a place that can be written; nothing was changed",
            "Check the permissions, the free space and whether another program has the file open.",
        ) from error


def disk_fault(error: BaseException) -> OSError | None:
    """The disk's own answer behind an error, if there is one."""
    seen: set[int] = set()
    waiting: list[BaseException | None] = [error]
    while waiting:
        one = waiting.pop()
        if one is None or id(one) in seen:
            continue
        seen.add(id(one))
        if isinstance(one, OSError) and not isinstance(one, BrokenPipeError) and one.errno:
            return one
        code = int(getattr(one, "sqlite_errorcode", None) or 0) & 0xFF
        if code in SQLITE_OF_THE_DISK:
            return OSError(SQLITE_OF_THE_DISK[code], str(one))
        waiting += [one.__cause__, one.__context__]
    return None
