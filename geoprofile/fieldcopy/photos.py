"""Photos of a field copy: those that lie beside it or in what the page has saved, and their way
into the folder of the site.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from geoprofile.errors import DataError
from geoprofile.fieldcopy.rows import Rows
from geoprofile.schema import TABLES
from geoprofile.store.attachments import inside
from geoprofile.whole import whole_files

TABLE = "attachment"
BEGINNINGS = {
    b"\xff\xd8\xff": ".jpg",
    b"\x89PNG\r\n\x1a\n": ".png",
}  # of a file, as their standards say
NO_NAME = re.compile(r"[^0-9A-Za-z_-]+")  # what the name of a photo is not made of
Source = Path | bytes  # where a photo is to be had: a file, or the photo itself


@dataclass(frozen=True)
class Photos:
    """Rows of attachments, the files to copy by where they go, and what is told, by path."""

    rows: Rows = field(default_factory=dict)
    files: Mapping[Path, Source] = field(default_factory=dict)
    told: Mapping[str, str] = field(default_factory=dict)


def folder_of(mark: str) -> str:
    """Where the photos of a copy lie, beside it and in the folder of the site."""
    return f"photos_{mark}"


def photos_beside(
    copy: Path, mark: str, listed: Rows, boreholes: Sequence[str], home: Path
) -> Photos:
    """The photos of a copy: those in its table, and those in its folder that no row names.

    A photo that is in no row belongs to the borehole of the copy, where it has only one. `home` is
    the folder of the site, in which each keeps the name that it has beside the copy.
    """
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    files: dict[Path, Source] = {}
    told: dict[str, str] = {}
    borehole = boreholes[0] if len(boreholes) == 1 else None
    for key, row in {**_loose(copy.parent, mark, borehole), **listed}.items():
        name = str(key[0])
        try:
            source = inside(copy.parent, name)
        except DataError as error:
            if not _is_inside(home, name):
                told[name] = f"not brought: {error.problem.found} beside the field copy"
                continue
            rows[key] = row  # its photo came earlier
            continue
        rows[key] = row
        if said := _place(home / name, source, files):
            told[name] = said
    return Photos(rows, files, told)


def photos_within(mark: str, listed: Sequence[Mapping[str, Any]], home: Path) -> Photos:
    """The photos that the page has saved with a zone, named by zone, time and content.

    The same photo has the same name, so that what is saved twice is there once. ValueError for
    what is no picture.
    """
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    files: dict[Path, Source] = {}
    told: dict[str, str] = {}
    for photo in listed:
        content = base64.b64decode(photo["picture"], validate=True)
        ending = next((e for b, e in BEGINNINGS.items() if content.startswith(b)), None)
        if ending is None:
            raise ValueError("no picture")
        zone, taken = photo["interval"], photo["taken_at"]
        shown = zone or photo["borehole"]
        parts = (str(shown), str(taken or "")[:19], hashlib.sha256(content).hexdigest()[:10])
        stem = "_".join(NO_NAME.sub("", part) for part in parts)
        name = f"{folder_of(mark)}/{stem}{ending}"
        said = str(photo["what"] or "").strip()
        if (name,) in rows and not said:  # the same photo twice: described once is enough
            continue
        what = said or f"Photo of {shown}, not described"
        rows[(name,)] = {c.name: None for c in TABLES[TABLE].columns} | {
            "path": name,
            "what": what,
            "borehole": photo["borehole"],
            "interval": zone,
            "taken_at": taken,
        }
        if refused := _place(home / name, content, files):
            told[name] = refused
    return Photos(rows, files, told)


def _place(target: Path, source: Source, files: dict[Path, Source]) -> str | None:
    """Have a photo copied, unless it is there; what is told where another one is."""
    if not target.exists():
        files[target] = source
    elif target.read_bytes() != _bytes_of(source):
        return "not copied: another file of that name is in the site folder"
    return None


def _bytes_of(source: Source) -> bytes:
    return source if isinstance(source, bytes) else source.read_bytes()


@contextmanager
def copied_photos(files: Mapping[Path, Source]) -> Iterator[None]:
    """Copy each file to its place, all or none; away again where what follows fails."""
    for target in files:
        target.parent.mkdir(parents=True, exist_ok=True)
    with whole_files(tuple(files)) as places:
        for place, source in zip(places, files.values(), strict=True):
            place.write_bytes(_bytes_of(source))
    try:
        yield
    except BaseException:
        for target in files:
            target.unlink(missing_ok=True)
        for folder in {target.parent for target in files}:
            with suppress(OSError):  # not where something else lies in it
                folder.rmdir()
        raise


def _loose(beside: Path, mark: str, borehole: str | None) -> dict[tuple[Any, ...], dict[str, Any]]:
    """A row for each file in the folder of the copy's photos."""
    found = {}
    for file in sorted((beside / folder_of(mark)).rglob("*")):
        name = file.relative_to(beside).as_posix()
        if file.name.startswith(".") or not file.is_file():
            continue
        row: dict[str, Any] = {c.name: None for c in TABLES[TABLE].columns}
        what = f"Photo of field copy {mark}, not described"
        found[(name,)] = row | {"path": name, "what": what, "borehole": borehole}
    return found


def _is_inside(folder: Path, name: str) -> bool:
    try:
        inside(folder, name)
    except DataError:
        return False
    return True
