"""Where the project lies, and how the user's changes to it survive."""

from __future__ import annotations

import hashlib
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path

from geoprofile.drawing.people import shown_by, shown_in
from geoprofile.errors import ChangedError, UsageError
from geoprofile.gisproject.document import document
from geoprofile.store.connection import telling
from geoprofile.store.projects import contents_of, store_project, stored_project
from geoprofile.whole import whole_file

MARK = "geoprofile "  # begins the zip's comment, which another program that saves does not keep
STAMP = (2000, 1, 1, 0, 0, 0)  # the same project is the same file, to the last byte
LARGEST = 100_000_000  # bytes; a project of ours has less than a hundredth
INSIDE = "site"  # name of the project in the site file
WRITTEN, LEFT = "written", "left"


@dataclass(frozen=True)
class Kept:
    """What became of the project: the file beside the site file, what was written, what stayed."""

    file: Path
    written: tuple[str, ...]
    left: tuple[str, ...]


def keep_project(path: Path, *, overwrite: bool = False) -> Kept:
    """Write the project of a site file into it and beside it, but not over a changed one.

    Parameters
    ----------
    path : Path
        Site file.
    overwrite : bool
        Write over one that was changed too; what was there is kept under another name.

    Returns
    -------
    Kept
        What was written and what was left as it is.
    """
    contents = contents_of(path)
    with shown_in(shown_by(contents.settings.get("units") or {})):
        content = packed(document(contents, path.name), f"{path.stem}.qgs")
    file = path.with_suffix(".qgz")
    written: list[str] = []
    left: list[str] = []
    became = _keep_inside(path, content, overwrite)
    if became:
        (left if became == LEFT else written).append(f"project '{INSIDE}' in {path.name}")
    with telling(file):
        beside = file.read_bytes() if file.exists() else None
        if is_ours(beside) or overwrite:
            if beside != content:
                if not is_ours(beside):
                    file.replace(file.with_name(f"{file.stem}.before-{_short(beside)}.qgz"))
                _write(file, content)
                written.append(file.name)
        else:
            left.append(file.name)
    return Kept(file, tuple(written), tuple(left))


def _keep_inside(path: Path, content: bytes, overwrite: bool) -> str:
    """What became of the project in the site file; nothing where it is as it should be.

    One that is saved in the GIS right now is looked at again before it is replaced.
    """
    for last in (False, False, False, True):
        inside = stored_project(path, INSIDE)
        if not is_ours(inside) and not overwrite:
            return LEFT
        if inside == content:
            return ""
        keep = "" if is_ours(inside) else f"{INSIDE} before {_short(inside)}"
        try:
            store_project(path, INSIDE, content, keep_as=keep, seen=(inside,))
        except ChangedError:
            if last:
                raise
        else:
            break
    return WRITTEN


def _write(file: Path, content: bytes) -> None:
    with whole_file(file) as beside:
        beside.write_bytes(content)


def _short(content: bytes | None) -> str:
    return hashlib.sha256(content or b"").hexdigest()[:8]


def packed(text: str, name: str) -> bytes:
    """A project zipped, with a mark by which it is known as ours and unchanged."""
    data = text.encode()
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo(name, STAMP), data, zipfile.ZIP_DEFLATED)
        archive.comment = (MARK + hashlib.sha256(data).hexdigest()).encode()
    return buffer.getvalue()


def is_ours(content: bytes | None) -> bool:
    """Whether there is no project, or one that nobody changed since it was written by us."""
    if content is None:
        return True
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            (name,) = archive.namelist()
            mark = archive.comment.decode("ascii", "replace")
            data = archive.read(name) if archive.getinfo(name).file_size < LARGEST else b""
    except (zipfile.BadZipFile, ValueError, KeyError, OSError, RuntimeError):
        return False
    return mark == MARK + hashlib.sha256(data).hexdigest()


def refuse_left(kept: Kept) -> None:
    """UsageError where a changed project was left as it is."""
    if kept.left:
        raise UsageError(
            " and ".join(kept.left),
            "changes that were made in the GIS",
            "a project as geoprofile wrote it",
            "Use --overwrite; what is there is kept under another name.",
        )
