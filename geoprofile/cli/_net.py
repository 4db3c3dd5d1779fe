"""The last net: whatever goes wrong ends in one message and a documented exit code.

What is no fault of the user's leaves a file to send: where it happened in the program, and on which
versions. No value, name or path of the user's is in it unless asked for.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile import __version__
from geoprofile.errors import DataError, DiskError, GeoprofileError

if TYPE_CHECKING:
    import traceback

INTERNAL = 6  # exit code of a fault of the program itself
FULL_DETAILS = "GEOPROFILE_CRASH_DETAILS"  # set to 1: messages, which may hold data, are kept too
PACKAGE = Path(__file__).parents[1]


def known_error(error: BaseException) -> GeoprofileError | None:
    """The error of ours behind any exception, if the disk, the memory or the site file is at fault.

    None for what only a fault of the program explains.
    """
    from geoprofile.whole import disk_fault

    if isinstance(error, GeoprofileError):
        return error
    fault = disk_fault(error)
    if fault is not None:
        place = fault.filename if isinstance(fault.filename, str) else "disk"
        return DiskError(
            place,
            f"that the disk or folder refused ({fault.strerror or fault})",
            "files and folders that can be read and written",
            "Check the name, the permissions and the free space, then run again.",
        )
    if isinstance(error, MemoryError):
        return DataError(
            "memory",
            "less than the work takes",
            "room for the cells, levels and draws that were asked for",
            "Ask for larger cells, fewer levels or fewer draws.",
        )
    if type(error).__module__ == "sqlite3":
        from geoprofile.store.connection import told

        return told(error, Path("site file")) if isinstance(error, Exception) else None
    return None


def crash_file(error: BaseException, words: list[str]) -> str:
    """Write where the program failed; the file's path, or what is known if none can be written."""
    import secrets
    import tempfile
    import traceback

    text = crash_text(error, words)
    name = f"geoprofile-crash-{datetime.now(UTC):%Y%m%dT%H%M%S}-{secrets.token_hex(3)}.txt"
    for folder in (Path.cwd, lambda: Path(tempfile.gettempdir())):
        with suppress(OSError, RuntimeError):
            path = folder() / name
            flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
            with os.fdopen(os.open(path, flags, 0o600), "w", encoding="utf-8") as file:
                file.write(text)
            return f"send {path} to its makers; it holds no data of yours"
    frames = traceback.extract_tb(error.__traceback__)
    where = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "unknown"
    return f"tell its makers: {type(error).__name__} at {where}, version {__version__}"


def crash_text(error: BaseException, words: list[str]) -> str:
    """Command, versions and the chain of calls, without any value of the user's."""
    import platform
    import traceback

    command = words[0] if words and words[0].isalpha() and words[0].isascii() else "-"
    lines = [
        f"geoprofile {__version__}, command {command}",
        f"Python {platform.python_version()} on {platform.system()} {platform.machine()}",
        "",
    ]
    shown: set[int] = set()
    one: BaseException | None = error
    while one is not None and id(one) not in shown:
        shown.add(id(one))
        lines.append(type(one).__name__)
        lines += [_frame(f) for f in traceback.extract_tb(one.__traceback__)[-60:]]
        if os.environ.get(FULL_DETAILS) == "1":
            lines.append(f"  said: {one}")
        one = one.__cause__ or one.__context__
    return "\n".join([*lines, ""])


def _frame(frame: traceback.FrameSummary) -> str:
    """File, line and function; outside the program and its libraries not even the name."""
    file = Path(frame.filename)
    parts = file.parts
    if PACKAGE in file.parents:
        name = file.relative_to(PACKAGE.parent).as_posix()
    elif "site-packages" in parts:
        name = "/".join(parts[parts.index("site-packages") + 1 :])
    elif Path(os.__file__).parent in file.parents:
        name = file.relative_to(Path(os.__file__).parent).as_posix()
    else:
        name = "(other)"
    return f"  {name}:{frame.lineno} {frame.name}"


def close_output() -> None:
    """Say all that is still to be said; OSError where it cannot be, a full disk for instance."""
    sys.stdout.flush()


def drop_output() -> None:
    """Let nothing more be written at the very end, where an error would be a traceback."""
    with suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
