"""Runs the validation book and writes its page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.errors import UsageError
from geoprofile.plugins import Progress, no_progress
from geoprofile.whole import whole_files

if TYPE_CHECKING:
    from geoprofile.validation.case import Line

PAGE = (".html", ".htm")


@dataclass(frozen=True)
class Validated:
    """The lines of the book, the files written, and the count in words."""

    lines: tuple[Line, ...]
    files: tuple[Path, ...]
    summary: str

    @property
    def has_failed(self) -> bool:
        """Whether any case failed."""
        return any(line.status == "fail" for line in self.lines)


def validate(
    file: Path,
    *,
    slow: bool = False,
    topic: str | None = None,
    overwrite: bool = False,
    progress: Progress = no_progress,
) -> Validated:
    """Run the validation book and write it as a page and as CSV.

    Parameters
    ----------
    file : Path
        The page, .html; the CSV lies beside it.
    slow : bool
        The slow half, too.
    topic : str, optional
        One topic of the book alone.
    overwrite : bool
        Replace files that are there.
    progress : Progress
        Told after every case.

    Returns
    -------
    Validated
        Lines and files.

    Raises
    ------
    UsageError
        A name that is no page, or files that are there.
    """
    from geoprofile.validation.book import run_book, versions
    from geoprofile.validation.page import as_csv, as_html, summary

    _check(file, overwrite=overwrite)
    lines = run_book(slow=slow, topic=topic, progress=progress)
    made_on = datetime.now(UTC).date().isoformat()
    files = (file, file.with_suffix(".csv"))
    with whole_files(files) as (page, rows):
        page.write_text(as_html(lines, versions(), made_on=made_on), encoding="utf-8")
        rows.write_text(as_csv(lines), encoding="utf-8")
    return Validated(lines, files, summary(lines))


def _check(file: Path, *, overwrite: bool) -> None:
    if file.suffix.casefold() not in PAGE:
        raise UsageError(
            str(file), f"the ending '{file.suffix}'", "a page, .html", "Name a file such as v.html."
        )
    if not file.parent.is_dir():
        raise UsageError(
            str(file.parent), "no such folder", "a folder that exists", "Make the folder first."
        )
    there = [f for f in (file, file.with_suffix(".csv")) if f.exists()]
    if there and not overwrite:
        raise UsageError(
            str(there[0]), "a file", "a new name", "Choose another name or use --overwrite."
        )
