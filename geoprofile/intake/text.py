"""Reads a delimited text file in pieces of bounded size: rows of text with their line numbers."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TextIO

from geoprofile.errors import DataError
from geoprofile.intake.problems import shown
from geoprofile.intake.records import SiteSettings

PIECE_ROWS = 50_000
MOST_BYTES = 1 << 30
MOST_COLUMNS = 1000
MOST_LINE = 1 << 20  # characters
COMMENT = "#"
NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
KINDS = {
    b"PK\x03\x04": "a zip archive or workbook",
    b"SQLite format 3": "a database",
    b"%PDF": "a PDF document",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a compressed file",
    b"\xd0\xcf\x11\xe0": "an old workbook (.xls)",
    b"{": "JSON text",
    b"<": "markup text (XML or HTML)",
}
# what UTF-8 looks like when read as Latin-1 and saved again; U+FFFD stands for bytes already lost
GARBLED = re.compile("[\u00c2\u00c3][\u0080-\u00bf]|\u00e2\u20ac|\ufffd")


@dataclass(frozen=True)
class Piece:
    """Some rows of a table as text, by column, with the row numbers of the file.

    `typed` marks numbers that a workbook held as numbers: they use a decimal point.
    """

    columns: tuple[tuple[str, ...], ...]
    rows: tuple[int, ...]
    typed: bool = False


@dataclass(frozen=True)
class Sheet:
    """A table of text: its header and its rows in pieces."""

    header: tuple[str, ...]
    pieces: Iterator[Piece]


def read_text(path: Path, name: str, settings: SiteSettings) -> Sheet:
    """Open a delimited file; its rows are read as the pieces are taken.

    Raises
    ------
    DataError
        Empty, of another kind, in another encoding or with another delimiter than declared; or,
        while pieces are taken, a row that does not fit the header.
    """
    _refuse_other_kinds(path, name)
    lines = _lines(path, name, settings)
    start, first = _header_line(lines, name)
    reader = csv.reader(chain([first], lines), delimiter=settings.delimiter, strict=True)
    header = tuple(cell.strip() for cell in _next_row(reader, name, start))
    _check_header(header, first, name, settings)
    return Sheet(header, _pieces(reader, len(header), name, start, settings))


def _refuse_other_kinds(path: Path, name: str) -> None:
    size = path.stat().st_size
    if size == 0:
        raise DataError(
            name, "an empty file", "a header and rows", "Save the table again, or remove the file."
        )
    if size > MOST_BYTES:
        raise DataError(
            name,
            f"{size / 1e9:.1f} GB",
            f"at most {MOST_BYTES / 1e9:.1f} GB",
            "Split it into several files, such as one per test in the folder 'readings'.",
        )
    with path.open("rb") as handle:
        start = handle.read(4096)
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise DataError(name, "text in UTF-16", "text in UTF-8", "Save it again as CSV in UTF-8.")
    plain = start.removeprefix(b"\xef\xbb\xbf").lstrip()
    for magic, kind in KINDS.items():
        if plain.startswith(magic):
            raise _other_kind(name, kind)
    if b"\0" in start:
        raise _other_kind(name, "a binary file")


def _other_kind(name: str, kind: str) -> DataError:
    return DataError(
        name, kind, "a table as delimited text", "Save the table as CSV in UTF-8 under this name."
    )


def _lines(path: Path, name: str, settings: SiteSettings) -> Iterator[str]:
    encoding = (
        "utf-8-sig" if settings.encoding.casefold() in ("utf-8", "utf8") else settings.encoding
    )
    with path.open(encoding=encoding, newline="") as handle:
        yield from _decoded(handle, name, settings.encoding)


def _decoded(handle: TextIO, name: str, encoding: str) -> Iterator[str]:
    number = 0
    try:
        while line := handle.readline(MOST_LINE):
            number += 1
            _check_line(line, name, number)
            yield line
    except UnicodeDecodeError as error:
        raise DataError(
            f"{name}, after row {number}",
            f"bytes that are no {encoding} text",
            f"text in {encoding}",
            'Save it as UTF-8, or declare its encoding in site.toml: [intake] encoding = "cp1252".',
        ) from error


def _check_line(line: str, name: str, number: int) -> None:
    if len(line) >= MOST_LINE:
        raise DataError(
            f"{name} row {number}",
            f"a line of more than {MOST_LINE} characters",
            "rows of ordinary length",
            "Check that this file is the table that was meant.",
        )
    if line.isascii():
        if "\0" in line:
            raise _other_kind(f"{name} row {number}", "a zero byte")
        return
    if found := GARBLED.search(line):
        near = line[max(found.start() - 8, 0) : found.end() + 8]
        raise DataError(
            f"{name} row {number}",
            f"garbled letters, {shown(near)}",
            "text read in the encoding in which it was written",
            "Export the table again as UTF-8 from where it came from; do not correct it by hand.",
        )


def _header_line(lines: Iterator[str], name: str) -> tuple[int, str]:
    for number, line in enumerate(lines, start=1):
        if line.strip() and not line.startswith(COMMENT):
            return number, line
    raise DataError(
        name, "no header", "a header and rows", "Save the table again, or remove the file."
    )


def _check_header(header: tuple[str, ...], line: str, name: str, settings: SiteSettings) -> None:
    if len(header) > MOST_COLUMNS:
        raise DataError(
            f"{name} row 1",
            f"{len(header)} columns",
            f"at most {MOST_COLUMNS}",
            "Check that this file is the table that was meant.",
        )
    if len(header) > 1:
        return
    counts = {d: line.count(d) for d in NAMES if d != settings.delimiter}
    best = max(counts, key=lambda d: counts[d])
    if counts[best]:
        shown_delimiter = best.replace("\t", "\\t")
        raise DataError(
            name,
            f"one column only; a {NAMES[best]} stands between the names",
            f"a {NAMES[settings.delimiter]} between the columns",
            f"Save it with {NAMES[settings.delimiter]}s, or declare it in site.toml: "
            f'[intake] delimiter = "{shown_delimiter}"'
            + (' (and decimal = "," if its numbers have decimal commas).' if best == ";" else "."),
        )


def _next_row(reader: Iterator[list[str]], name: str, row: int) -> list[str]:
    try:
        return next(reader)
    except csv.Error as error:
        raise DataError(
            f"{name} row {row}",
            f"a row that cannot be taken apart ({error})",
            "quotes in pairs, and cells of ordinary length",
            "Look for a quotation mark that is not closed, and correct it.",
        ) from error


def _pieces(
    reader: Iterator[list[str]], width: int, name: str, start: int, settings: SiteSettings
) -> Iterator[Piece]:
    cells: list[list[str]] = []
    rows: list[int] = []
    while True:
        row = start + reader.line_num  # type: ignore[attr-defined]
        try:
            cells_of_row = _next_row(reader, name, row)
        except StopIteration:
            break
        if not any(map(str.strip, cells_of_row)):
            continue
        if len(cells_of_row) != width:
            raise _ragged(f"{name} row {row}", len(cells_of_row), width, settings)
        cells.append(cells_of_row)
        rows.append(row)
        if len(rows) == PIECE_ROWS:
            yield Piece(tuple(zip(*cells, strict=True)), tuple(rows))
            cells, rows = [], []
    if rows:
        yield Piece(tuple(zip(*cells, strict=True)), tuple(rows))


def _ragged(where: str, found: int, width: int, settings: SiteSettings) -> DataError:
    advice = "Check the row for a missing cell, or for text with a delimiter and no quotes."
    if found > width and settings.delimiter == ",":
        advice = (
            "Look for decimal commas or text with commas: write 12.5 and not 12,5, "
            "and put such text in quotation marks."
        )
    return DataError(where, f"{found} cells", f"{width} as in the header", advice)
