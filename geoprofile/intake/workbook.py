"""Reads one sheet of a workbook as text; size and form are checked before anything is unpacked."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

from geoprofile.errors import DataError
from geoprofile.intake.files import BROKEN_ZIP
from geoprofile.intake.text import MOST_COLUMNS, Piece, Sheet

PIECE_ROWS = 20_000
MOST_ROWS = 1_000_000
MOST_UNPACKED = 400_000_000  # bytes
MOST_RATIO = 200
MOST_PARTS = 2000
NO_TEXT = ("", None)


def read_workbook(path: Path, name: str, sheet: str) -> Sheet:
    """Open a sheet; formulas give the value they last had, macros are never run.

    Raises
    ------
    DataError
        No workbook, one that unpacks to an unreasonable size, or an empty sheet.
    """
    _refuse_bombs(path, name)
    rows = _rows(path, name, sheet)
    for number, cells in rows:
        header = tuple(_text(c).strip() for c in cells)
        if any(header):
            while header and not header[-1]:
                header = header[:-1]
            return Sheet(header, _pieces(rows, len(header), name, number))
    raise DataError(name, "an empty sheet", "a header and rows", "Fill the sheet, or remove it.")


def _refuse_bombs(path: Path, name: str) -> None:
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
            types = [_start(archive, p) for p in parts[:MOST_PARTS] if p.filename.endswith(".xml")]
    except BROKEN_ZIP as error:
        raise DataError(
            name, f"a file that is no workbook ({error})", "an .xlsx workbook", "Save it again."
        ) from error
    size, packed = sum(p.file_size for p in parts), max(path.stat().st_size, 1)
    if size > MOST_UNPACKED or size / packed > MOST_RATIO or len(parts) > MOST_PARTS:
        raise DataError(
            name,
            f"a workbook of {size / 1e6:.0f} MB when unpacked, {size / packed:.0f} times its size",
            f"at most {MOST_UNPACKED / 1e6:.0f} MB and {MOST_RATIO} times",
            "Check where the file comes from; save the table as CSV.",
        )
    if any(b"<!DOCTYPE" in t or b"<!ENTITY" in t for t in types):
        raise DataError(
            name,
            "a workbook with a document type of its own",
            "a workbook as spreadsheet programs write it",
            "Check where the file comes from; save the table as CSV.",
        )


def _start(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
    with archive.open(part) as handle:
        return handle.read(2048)


def _rows(path: Path, name: str, sheet: str) -> Iterator[tuple[int, tuple[Any, ...]]]:
    import warnings

    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # remarks on styles and extensions, which are not used
        try:
            book = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
            page = book[sheet]
            page.reset_dimensions()
            yield from enumerate(page.iter_rows(values_only=True), start=1)
        except DataError:
            raise
        except Exception as error:  # the parser of a hostile file may fail in any way
            raise DataError(
                name,
                f"a workbook that cannot be read ({type(error).__name__})",
                "an .xlsx workbook",
                "Save it again, or save the table as CSV.",
            ) from error
        else:
            book.close()


def _pieces(
    rows: Iterable[tuple[int, tuple[Any, ...]]], width: int, name: str, start: int
) -> Iterator[Piece]:
    cells: list[tuple[str, ...]] = []
    numbers: list[int] = []
    for number, row in rows:
        if number - start > MOST_ROWS or len(row) > MOST_COLUMNS:
            raise DataError(
                f"{name} row {number}",
                "a sheet of this size",
                f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns",
                "Save the table as CSV.",
            )
        texts = [_text(c) for c in row]
        if not any(t.strip() for t in texts):
            continue
        if any(t.strip() for t in texts[width:]):
            raise DataError(
                f"{name} row {number}",
                "a cell beyond the last column of the header",
                f"{width} cells as in the header",
                "Give the column a name, or clear the cell.",
            )
        cells.append(tuple((texts + [""] * width)[:width]))
        numbers.append(number)
        if len(numbers) == PIECE_ROWS:
            yield Piece(tuple(zip(*cells, strict=True)), tuple(numbers), typed=True)
            cells, numbers = [], []
    if numbers:
        yield Piece(tuple(zip(*cells, strict=True)), tuple(numbers), typed=True)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value)
