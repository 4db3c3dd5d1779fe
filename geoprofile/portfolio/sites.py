"""Which sites lie in a folder, and whether anything about one has changed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from geoprofile.errors import GeoprofileError
from geoprofile.fieldcopy.known import MARK
from geoprofile.handover.crate import CRATE
from geoprofile.store import Store

SETTINGS = "site.toml"
OUTPUTS = {"out", "portfolio"}


@dataclass(frozen=True)
class Place:
    """A site: a folder with site.toml, or a site file alone; `name` is its path in the portfolio.

    `name` has no character that a folder or a query would trip over.
    """

    name: str
    path: Path

    @property
    def is_folder(self) -> bool:
        """Whether it has inputs to load."""
        return self.path.is_dir()


def find_sites(folder: Path) -> list[Place]:
    """Every site below a folder, in the order of their names.

    Parameters
    ----------
    folder : Path
        Searched with all that lies in it, but for outputs and hidden folders.

    Returns
    -------
    list of Place
        Folders with site.toml, and GeoPackages that lie beside none. Copies of a site are none of
        their own: hand-overs and field copies are passed over.
    """
    return sorted(_search(folder, folder), key=lambda place: place.name)


def _search(folder: Path, top: Path) -> Iterator[Place]:
    entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    if any(entry.name == SETTINGS for entry in entries):
        yield Place(_named(folder, top), folder)
        return
    if any(entry.name == CRATE for entry in entries):
        return
    for entry in entries:
        if entry.name.startswith(".") or entry.is_symlink():
            continue
        path = Path(entry.path)
        if entry.is_dir() and entry.name not in OUTPUTS:
            yield from _search(path, top)
        elif entry.is_file() and path.suffix == ".gpkg" and not _is_field_copy(path):
            yield Place(_named(path.with_suffix(""), top), path)


def _is_field_copy(path: Path) -> bool:
    """Whether a file was taken to the field; what is wrong with one that is none is told later."""
    try:
        return MARK in Store.open(path).settings()
    except GeoprofileError:
        return False


def _named(path: Path, top: Path) -> str:
    """A path as one word; what had to be replaced is told apart by a digest."""
    text = path.relative_to(top).as_posix()
    text = top.resolve().name if text == "." else text
    kept = "".join(c if c.isalnum() or c in "-_." else "_" for c in text)
    if kept == text:
        return kept
    return f"{kept}_{hashlib.sha256(text.encode()).hexdigest()[:6]}"


def state_of(place: Place) -> str:
    """A digest of the names, sizes and times of a site's files: equal where nobody touched any."""
    seen = hashlib.sha256()
    for name, size, time_ns in sorted(_files(place.path)):
        seen.update(f"{name}\0{size}\0{time_ns}\n".encode())
    return seen.hexdigest()


def _files(path: Path) -> Iterator[tuple[str, int, int]]:
    if path.is_file():
        seen = path.stat()
        yield path.name, seen.st_size, seen.st_mtime_ns
        return
    for entry in os.scandir(path):
        if entry.name in OUTPUTS or entry.name.endswith(("-wal", "-shm", "-journal")):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from ((f"{entry.name}/{n}", s, t) for n, s, t in _files(Path(entry.path)))
        elif entry.is_file():
            seen = entry.stat()
            yield entry.name, seen.st_size, seen.st_mtime_ns
