"""A sheet that would come out as it lies there is not drawn again.

A run remembers, by all that a sheet shows, what its files were. Where the same is to be shown, by
the same code and libraries, and the files are still those, they stay. A sheet may also be drawn
ahead, to lie aside under the digest of what it shows until it is known that the same is wanted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Any

from geoprofile.drawing import people
from geoprofile.plugins.registry import installed
from geoprofile.remembered import Form, keep, name_of, recalled
from geoprofile.whole import take_place

# whatever part of the program changes, its sheets are drawn anew
FILES = Form("sheet", ("",), lambda prints: (list(prints), ()), lambda found: tuple(found[0]))
_ASIDE: ContextVar[Path | None] = ContextVar("aside", default=None)
_AHEAD: ContextVar[Path | None] = ContextVar("ahead", default=None)


@contextmanager
def drawing_aside(folder: Path) -> Iterator[None]:
    """Inside, sheets that are not there are drawn into a folder of their own, and nothing else."""
    token = _ASIDE.set(folder)
    try:
        yield
    finally:
        _ASIDE.reset(token)


def ahead_now() -> Path | None:
    """Where sheets drawn ahead lie, for another process that draws for this one."""
    return _AHEAD.get()


@contextmanager
def drawn_ahead(folder: Path | None) -> Iterator[None]:
    """Inside, a sheet that lies in that folder is taken from there; None: all are drawn."""
    token = _AHEAD.set(folder)
    try:
        yield
    finally:
        _AHEAD.reset(token)


def unless_there(
    path: str | Path, formats: Sequence[str], shown: Any, draw: Callable[[Path], tuple[Path, ...]]
) -> tuple[Path, ...]:
    """The files of a sheet, drawn unless those in their place are what drawing would give.

    Parameters
    ----------
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        Their suffixes.
    shown : object
        All that the sheet shows: records, arrays, numbers and text. What has no digest is always
        drawn.
    draw : callable
        Draws to a path without suffix, and gives the files written.

    Returns
    -------
    tuple of Path
        The files, one of each format.
    """
    parts = (shown, tuple(formats), people.now(), _libraries(), installed())
    files = tuple(Path(f"{path}.{suffix}") for suffix in formats)
    before = recalled(parts, FILES)
    if before is not None and before == tuple(map(_print, files)):
        return files
    aside = _ASIDE.get()
    if aside is not None:
        draw(aside / (name_of(parts, FILES) or "unnamed") / Path(path).name)
        return ()
    written = files if _taken(parts, files) else draw(Path(path))
    prints = tuple(map(_print, written))
    if None not in prints:
        keep(parts, FILES, prints)
    return written


def _taken(parts: tuple[Any, ...], files: Sequence[Path]) -> bool:
    """Whether the sheet had been drawn ahead, whole, and now lies in its place."""
    ahead = _AHEAD.get()
    name = None if ahead is None else name_of(parts, FILES)
    if ahead is None or name is None:
        return False
    ready = [ahead / name / file.name for file in files]
    return all(file.is_file() for file in ready) and take_place(ready, files)


def _print(file: Path) -> str | None:
    """Of what a file holds; None where there is none, or a link to one."""
    try:
        return None if file.is_symlink() else hashlib.sha256(file.read_bytes()).hexdigest()
    except OSError:
        return None


@cache
def _libraries() -> tuple[str, ...]:
    """What else decides how a sheet comes out: those who draw, write and lay out letters."""
    import matplotlib as mpl
    import PIL
    from matplotlib import font_manager, ft2font

    font = Path(font_manager.findfont("DejaVu Sans"))
    return (mpl.__version__, ft2font.__freetype_version__, PIL.__version__, str(_print(font)))
