"""Photos of a field copy: those that lie beside it, and their way into the folder of the site."""

from __future__ import annotations

import filecmp
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from geoprofile.errors import DataError
from geoprofile.fieldcopy.rows import Rows
from geoprofile.schema import TABLES
from geoprofile.store.attachments import inside
from geoprofile.whole import whole_files

TABLE = "attachment"


@dataclass(frozen=True)
class Photos:
    """Rows of attachments, the files to copy by where they go, and what is told, by path."""

    rows: Rows = field(default_factory=dict)
    files: Mapping[Path, Path] = field(default_factory=dict)
    told: Mapping[str, str] = field(default_factory=dict)


def folder_of(mark: str) -> str:
    """Where the photos of a copy lie, beside it and in the folder of the site."""
    return f"photos_{mark}"


def photos_of(copy: Path, mark: str, listed: Rows, boreholes: Sequence[str], home: Path) -> Photos:
    """The photos of a copy: those in its table, and those in its folder that no row names.

    A photo that is in no row belongs to the borehole of the copy, where it has only one. `home` is
    the folder of the site, in which each keeps the name that it has beside the copy.
    """
    rows: dict[tuple[Any, ...], dict[str, Any]] = {}
    files: dict[Path, Path] = {}
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
        target = home / name
        if not target.exists():
            files[target] = source
        elif not filecmp.cmp(source, target, shallow=False):
            told[name] = "not copied: another file of that name is in the site folder"
    return Photos(rows, files, told)


def copy_photos(files: Mapping[Path, Path]) -> None:
    """Copy each file to its place: all, or none."""
    for target in files:
        target.parent.mkdir(parents=True, exist_ok=True)
    with whole_files(tuple(files)) as places:
        for place, source in zip(places, files.values(), strict=True):
            shutil.copyfile(source, place)


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
