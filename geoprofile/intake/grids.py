"""Raw rows of a delimited file or a sheet, before anything is known of headers."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass

from geoprofile.errors import DataError
from geoprofile.intake.profiles import BOOKS, KEY_ADVICE
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.text import MOST_COLUMNS, _lines, _refuse_other_kinds

MOST_CELL = 100_000  # characters; a quotation mark that is never closed swallows the file


@dataclass(frozen=True)
class Line:
    """One row of a file: its number as an editor or a spreadsheet counts, and its cells."""

    number: int
    cells: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether no cell holds anything."""
        return not any(c.strip() for c in self.cells)


def lines_of(file: SourceFile, settings: SiteSettings) -> Iterator[Line]:
    """The rows of a file in order, empty ones too; numbers of a workbook with the decimal mark of
    the settings.

    Raises
    ------
    DataError
        A file of another kind or encoding, or quotes that do not close.
    """
    if file.path.suffix.casefold() in BOOKS:
        yield from _of_sheet(file, settings.decimal)
        return
    if not settings.encoding.casefold().startswith(("utf-16", "utf16", "utf-32")):
        _refuse_other_kinds(file.path, file.name)
    reader = csv.reader(
        _lines(file.path, file.name, settings), delimiter=settings.delimiter, strict=True
    )
    number = 1
    try:
        for cells in reader:
            if len(cells) > MOST_COLUMNS or any(len(c) > MOST_CELL for c in cells):
                raise csv.Error("a row of unlikely size")
            yield Line(number, tuple(cells))
            number = reader.line_num + 1
    except csv.Error as error:
        raise DataError(
            f"{file.name} row {number}",
            f"a row that cannot be taken apart ({error})",
            "quotes in pairs, and cells of ordinary length",
            "Look for a quotation mark that is not closed, and correct it; or "
            f"{KEY_ADVICE} another delimiter.",
        ) from error


def _of_sheet(file: SourceFile, decimal: str) -> Iterator[Line]:
    from geoprofile.intake.workbook import _refuse_bombs, _rows, _text

    _refuse_bombs(file.path, file.name)
    for number, values in _rows(file.path, file.name, file.sheet):
        if len(values) > MOST_COLUMNS:
            advice = "Save the table as CSV."
            raise DataError(
                f"{file.name} row {number}", "too many columns", f"{MOST_COLUMNS} at most", advice
            )
        cells = [_text(v) for v in values]
        if decimal == ",":
            held = [isinstance(v, float) for v in values]
            cells = [c.replace(".", ",") if h else c for c, h in zip(cells, held, strict=True)]
        yield Line(number, tuple(cells))
