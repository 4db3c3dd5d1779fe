"""Photos and documents of the site folder: only what lies inside it, and nothing it points to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import pandas as pd

from geoprofile.errors import DataError, DataErrors, Problem

if TYPE_CHECKING:
    from geoprofile.site import Site

# names that a common operating system keeps for devices, whatever their ending
DEVICES = {"con", "prn", "aux", "nul"} | {f"{d}{i}" for d in ("com", "lpt") for i in range(1, 10)}
EXPECTED = "a file inside the site folder, written with / and without .."


@dataclass(frozen=True)
class Attachment:
    """A file that belongs to the site: its name there, where it lies, and what it shows."""

    name: str
    file: Path
    what: str
    borehole: str | None
    interval: str | None
    taken_at: str | None


def attachments_of(site: Site) -> tuple[tuple[Attachment, ...], tuple[Problem, ...]]:
    """The attachments that are there, and a problem for each that is not or that may not be."""
    found, problems = [], []
    folder = Path(site.path).parent
    for row in site.table("attachment").to_dict("records"):
        try:
            file = inside(folder, str(row["path"]))
        except DataError as error:
            problems.append(error.problem)
            continue
        found.append(
            Attachment(
                str(row["path"]),
                file,
                str(row["what"]),
                _text(row.get("borehole")),
                _text(row.get("interval")),
                _text(row.get("taken_at")),
            )
        )
    return tuple(found), tuple(problems)


def checked_attachments(site: Site) -> tuple[Attachment, ...]:
    """The attachments of a site.

    Raises
    ------
    DataErrors
        Every attachment that is missing or lies outside the site folder.
    """
    found, problems = attachments_of(site)
    if problems:
        raise DataErrors(problems)
    return found


def inside(folder: Path, name: str) -> Path:
    """The file of that name in a folder.

    Parameters
    ----------
    folder : Path
        That may not be left.
    name : str
        With / between folders.

    Returns
    -------
    Path
        A real file; a link that leads out of the folder is refused.

    Raises
    ------
    DataError
        A name that leaves the folder, names a device, or is no file.
    """
    parts = PurePosixPath(name).parts
    strange = any(c in name for c in "\\:\x00") or not parts or name.startswith("/")
    if strange or ".." in parts or any(p.split(".")[0].strip().lower() in DEVICES for p in parts):
        raise _refused(name, "a path that leaves the folder or names a device")
    home = folder.resolve()
    file = (home / name).resolve()
    if not file.is_relative_to(home):
        raise _refused(name, "a link that leads out of the folder")
    if not file.is_file():
        raise _refused(name, "no such file")
    return file


def _refused(name: str, found: str) -> DataError:
    return DataError(
        f"attachment {name!r}", found, EXPECTED, "Correct the path or move the file there."
    )


def _text(value: Any) -> str | None:
    return None if value is None or pd.isna(value) or value == "" else str(value)
