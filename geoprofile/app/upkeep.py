"""Brings a site file up to date, and puts back its safety copies."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from geoprofile import store
from geoprofile.errors import UsageError


def migrate(path: Path, tell: Callable[[str], None] = lambda remark: None) -> Path | None:
    """Bring a site file of an older layout up to date.

    Parameters
    ----------
    path : Path
        Site file.
    tell : callable
        Told of what lay beside the site file and had to go.

    Returns
    -------
    Path or None
        The safety copy of the state before; None when the file was up to date.

    Raises
    ------
    DamagedError
        The file is of a newer geoprofile, or no site file.
    """
    return store.migrate(path, tell)


def safety_copies(path: Path) -> list[tuple[str, str, str, str]]:
    """The safety copies beside a site file, the latest first.

    Parameters
    ----------
    path : Path
        Site file, which may be damaged or gone.

    Returns
    -------
    list of tuple of str
        Name, time in UTC, what it was taken for, where its rows differ from the present file.
    """
    return [(c.path.name, c.taken_at, c.reason, c.differs) for c in store.copies_of(path)]


def restore(
    path: Path, copy: Path, tell: Callable[[str], None] = lambda remark: None
) -> Path | None:
    """Put a safety copy in the place of a site file, and keep the state that it replaces.

    Parameters
    ----------
    path : Path
        Site file.
    copy : Path
        Safety copy; a bare name is looked for beside the site file.
    tell : callable
        Told of what lay beside the site file and had to go.

    Returns
    -------
    Path or None
        Where the state before is kept; None when there was no site file.

    Raises
    ------
    UsageError
        No such copy.
    DamagedError
        The copy is damaged; nothing was changed.
    """
    for place in (copy, path.parent / copy):
        if place.is_file():
            return store.restore(place, path, tell)
    names = ", ".join(c.path.name for c in store.copies_of(path)) or "none beside the site file"
    raise UsageError(str(copy), "no such file", f"a safety copy ({names})", "Check the name.")
