"""Files appear whole or not at all: written aside, checked, then moved into their place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataErrors, Problem, UsageError
from geoprofile.plugins import Format, Loss, Written
from geoprofile.whole import flush, private_folder, refusing

if TYPE_CHECKING:
    from geoprofile.site import Site

REPORT = "losses.txt"
NO_LOSS = "Nothing was cut, renamed, rounded or dropped.\n"


def write_format(
    plugin: Format,
    site: Site,
    folder: Path,
    settings: Mapping[str, Any],
    *,
    strict: bool = False,
    overwrite: bool = False,
) -> Written:
    """Write a format into a folder: all of its files and its loss report, or none.

    UsageError when a file is there already and `overwrite` is not set; DataErrors with every loss
    when `strict` is set. A file that the plugin names but did not write is a fault too.
    """
    chosen = {s.name: s.default for s in plugin.settings} | dict(settings)
    with refusing(folder), private_folder(folder) as work:
        written = plugin.write(site, str(work), chosen)
        _check_files(plugin, work, written)
        refuse_losses(written.losses if strict else ())
        (work / REPORT).write_text(loss_text(written.losses), encoding="utf-8")
        names = (*written.files, REPORT)
        _check_free([folder / n for n in names], overwrite)
        for name in names:
            _settle(work / name, folder / name)
    return written


def refuse_losses(losses: Sequence[Loss]) -> None:
    """DataErrors with every loss, if there is one."""
    if losses:
        raise DataErrors(
            [
                Problem(loss.where, f"{loss.kind}: {loss.what}", "no loss", "Leave out --strict.")
                for loss in losses
            ]
        )


def loss_text(losses: Sequence[Loss]) -> str:
    """The loss report, a loss a line."""
    return "".join(f"{loss}\n" for loss in losses) or NO_LOSS


def _check_files(plugin: Format, work: Path, written: Written) -> None:
    for name in written.files:
        if not (work / name).is_file():
            raise UsageError(
                f"format {plugin.name}",
                f"no file {name}",
                "every file it names",
                "Correct the plugin.",
            )


def _check_free(places: Sequence[Path], overwrite: bool) -> None:
    there = [p for p in places if p.exists()]
    if there and not overwrite:
        raise UsageError(
            str(there[0]),
            "a file of that name",
            "a new name",
            "Choose another folder or use --overwrite.",
        )


def _settle(source: Path, place: Path) -> None:
    """Move a finished file into its place once the disk holds it."""
    flush(source)
    place.parent.mkdir(parents=True, exist_ok=True)
    source.replace(place)
    flush(place.parent)
