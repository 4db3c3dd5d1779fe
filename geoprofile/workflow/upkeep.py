"""Brings a site file up to date, and puts back its safety copies."""

from __future__ import annotations

from pathlib import Path

from geoprofile import store


def migrate(path: Path) -> Path | None:
    """Bring a site file of an older layout up to date.

    Parameters
    ----------
    path : Path
        Site file.

    Returns
    -------
    Path or None
        The safety copy of the state before; None when the file was up to date.

    Raises
    ------
    DamagedError
        The file is of a newer geoprofile, or no site file.
    """
    return store.migrate(path)
