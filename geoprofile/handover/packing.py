"""Packs a hand-over: everything into a folder beside the target, then moved there as a whole."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from geoprofile.engine import check_overrides, chosen_settings
from geoprofile.errors import UsageError
from geoprofile.formats._common import require
from geoprofile.formats._metadata import iso_metadata
from geoprofile.formats._staging import refuse_losses, write_format
from geoprofile.handover.crate import CRATE, crate
from geoprofile.handover.private import private_names, without_private
from geoprofile.handover.readme import readme
from geoprofile.handover.review import check_inputs, write_review
from geoprofile.handover.shown import still_showing, taken_along
from geoprofile.plugins import Format, Layer, Loss, Progress, no_progress
from geoprofile.plugins.registry import plugin, plugins
from geoprofile.store.attachments import checked_attachments
from geoprofile.whole import REPLACED, flush, private_folder, refusing

if TYPE_CHECKING:
    from geoprofile.site import Site

DEFAULT_FORMATS = ("geopackage", "csv")
README, SUMS, REPORT = "README.txt", "checksums.sha256", "report.html"
METADATA = "metadata.xml"
ATTACHMENTS, REVIEW = "attachments", "review"


@dataclass(frozen=True)
class Delivered:
    """What was handed over: the folder, its files, losses by format, what stayed at home.

    `still_showing` are tables that left although they were computed from what stayed.
    """

    folder: Path
    files: tuple[str, ...]
    losses: Mapping[str, tuple[Loss, ...]]
    held_back: tuple[str, ...]
    still_showing: tuple[str, ...] = ()


def hand_over(
    site: Site,
    folder: Path,
    *,
    formats: Sequence[str] = DEFAULT_FORMATS,
    overrides: Mapping[str, str] | None = None,
    strict: bool = False,
    review: bool = False,
    overwrite: bool = False,
    progress: Progress = no_progress,
) -> Delivered:
    """Write the package for a receiver: all of it, or nothing.

    Parameters
    ----------
    site : Site
        As stored, with its path.
    folder : Path
        New folder; an older hand-over is replaced with `overwrite`.
    formats : Sequence of str
        Names of formats.
    overrides : Mapping, optional
        A value per "format.setting".
    strict : bool
        Any loss is an error.
    review : bool
        Add inputs, settings, versions and fingerprints.
    overwrite : bool
        Replace an older hand-over.
    progress : Progress
        Told after every format.

    Returns
    -------
    Delivered
        Files relative to the folder.

    Raises
    ------
    UsageError
        A folder that is in use, an unknown format, private data together with `review`.
    DataErrors
        Attachments outside the folder, changed inputs; every loss with `strict`.
    """
    held = private_names(site)
    _check(folder, held, review=review, overwrite=overwrite)
    check_overrides(overrides or {}, cast("Mapping[str, Layer]", plugins("formats")))
    chosen = [plugin("formats", name) for name in dict.fromkeys(formats)]
    _check_needs(site, chosen, review=review)
    public = without_private(site)
    losses: dict[str, tuple[Loss, ...]] = {}
    with refusing(folder), private_folder(folder.parent) as mine:
        work = mine / "new"
        work.mkdir()
        for done, one in enumerate(chosen):
            progress(done, len(chosen))
            settings = _settings(one, site, overrides or {})
            losses[one.name] = write_format(one, public, work / one.name, settings).losses
        refuse_losses([x for found in losses.values() for x in found] if strict else [])
        _add_report(public, work)
        made_on = datetime.now(UTC).date().isoformat()
        (work / METADATA).write_text(iso_metadata(public, made_on=made_on), encoding="utf-8")
        _add_attachments(public, work)
        if review:
            write_review(site, work / REVIEW)
        files = _finish(public, work, losses, held)
        _move(work, folder)
    progress(len(chosen), len(chosen))
    return Delivered(folder, files, losses, (*held, *taken_along(held)), still_showing(held))


def _check(folder: Path, held: Sequence[str], *, review: bool, overwrite: bool) -> None:
    if review and held:
        raise UsageError(
            "--review",
            f"private data ({', '.join(held)})",
            "nothing private, since a review takes the input files as they are",
            "Hand over without --review, or clear `private` under [handover] in site.toml.",
        )
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    if not (folder / README).is_file() or not (folder / SUMS).is_file():
        raise UsageError(
            str(folder), "something that is no hand-over", "a new folder", "Choose another name."
        )
    if not overwrite:
        raise UsageError(
            str(folder), "a hand-over", "a new folder", "Choose another name or use --overwrite."
        )


def _check_needs(site: Site, formats: Sequence[Format], *, review: bool) -> None:
    """What would be missing at the end is told before the work begins: files and libraries."""
    for one in formats:
        if one.needs:
            require(one.needs)
    checked_attachments(site)
    if review:
        check_inputs(site)


def _settings(one: Format, site: Site, overrides: Mapping[str, str]) -> dict[str, Any]:
    return chosen_settings(cast("Layer", one), site.settings_of(one.name), overrides)


def _add_report(site: Site, work: Path) -> None:
    from geoprofile.report import write_report

    write_report(site, work / REPORT)


def _add_attachments(site: Site, work: Path) -> None:
    for found in checked_attachments(site):
        place = work / ATTACHMENTS / found.name
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(found.file, place)


def _finish(
    site: Site, work: Path, losses: Mapping[str, tuple[Loss, ...]], held: Sequence[str]
) -> tuple[str, ...]:
    """Write README, crate and checksums; every file of the package."""
    made_on = datetime.now(UTC).date().isoformat()
    files = [*_files(work), CRATE, README, SUMS]
    text = readme(site, made_on=made_on, files=files, losses=losses, held=held)
    (work / README).write_text(text, encoding="utf-8")
    described = crate(site, work, _files(work), made_on=made_on)
    (work / CRATE).write_text(described, encoding="utf-8")
    sums = "".join(f"{_sha256(work / name)}  {name}\n" for name in _files(work))
    (work / SUMS).write_text(sums, encoding="utf-8")
    return tuple(sorted(files))


def _files(work: Path) -> list[str]:
    return sorted(p.relative_to(work).as_posix() for p in work.rglob("*") if p.is_file())


def _sha256(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def _move(work: Path, folder: Path) -> None:
    """Put the finished folder in place of what is there, which is kept until the new one stands."""
    for place in (*work.rglob("*"), work):
        flush(place)
    if folder.exists():
        old = work.parent / REPLACED / folder.name
        old.parent.mkdir()
        folder.rename(old)  # put back, by us or by the next command, should we not come to the end
    work.rename(folder)
    flush(folder.parent)
