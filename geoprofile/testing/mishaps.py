"""What befalls a site file besides commands: its editor is killed, or its disk is full for a while.

Both are real: another process dies with the file open, and the system refuses to let files grow.
They need a system with fork and limits; `CAN_HAPPEN` says whether this is one.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from geoprofile.errors import BusyError
from geoprofile.store.connection import connect, register_functions
from geoprofile.store.sidecars import SUFFIXES

CAN_HAPPEN = sys.platform != "win32"
SAVED, HALF_SAVED = "wal", "journal"  # what the editor leaves beside the file
ROOM = (0, 600, 20_000)  # [bytes] that a file may have on the full disk, or as many as it has
BIG = "UPDATE borehole SET remarks = hex(randomblob(3000))"  # more than stays in memory

Statements = Sequence[tuple[str, tuple[object, ...]]]


def kill_editor(site: Path, statements: Statements, left: str) -> None:
    """An editor with the file open is killed after it has saved rows, or in the midst of it.

    BusyError when it could not begin, as another program was writing.
    """
    pid = os.fork()
    if not pid:
        code = 1
        try:
            _edit_for_ever(site, statements, left)
            code = 0
        finally:
            os._exit(code)  # no connection is closed: what it left stays beside the file
    if os.waitpid(pid, 0)[1]:
        raise BusyError("site.gpkg", "a lock", "no lock", "Save again.")


def _edit_for_ever(site: Path, statements: Statements, left: str) -> None:
    connection = connect(site, seconds=0.0)
    register_functions(connection)
    if left == SAVED:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA wal_autocheckpoint=0")
    else:
        connection.execute("PRAGMA cache_size=1")
        connection.execute("PRAGMA cache_spill=1")
    connection.execute("BEGIN IMMEDIATE")
    for statement, values in statements:
        connection.execute(statement, values)
    connection.execute("COMMIT" if left == SAVED else BIG)
    globals()["_open"] = connection  # it must not be closed by being forgotten


def exchange(site: Path, copy: Path, left: str) -> None:
    """An editor is killed, then another state of the file is put in its place by hand."""
    kill_editor(site, [(BIG, ())], left)
    beside = site.with_name("by hand")
    shutil.copyfile(copy, beside)
    beside.replace(site)


def fill_disk(site: Path, number: int) -> None:
    """From now on no file grows beyond a few bytes, or beyond what the site file has."""
    import resource

    rooms = (*ROOM, site.stat().st_size)
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (rooms[number % len(rooms)], most))


def free_disk() -> None:
    """Files grow again."""
    if CAN_HAPPEN:
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def left_over(folder: Path) -> list[str]:
    """What lies in a folder that no command should leave: sidecars and what is half-made."""
    names = sorted(p.name for p in folder.iterdir())
    return [n for n in names if n.startswith(".") or n.endswith(SUFFIXES)]
