"""Reads a delimited text file in pieces of bounded size: rows of text with their line numbers."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, chain, islice
from pathlib import Path
from typing import TextIO

from geoprofile.errors import DataError
from geoprofile.intake.problems import shown
from geoprofile.intake.sources import SiteSettings

PIECE_ROWS = 50_000
MOST_BYTES = 1 << 30
MOST_COLUMNS = 1000
MOST_LINE = 1 << 20  # characters
BLOCK = 1 << 20  # characters
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

    `typed` marks numbers that a workbook held as numbers: they use a decimal point. `about` names
    the column from which the values of a wide table come.
    """

    columns: tuple[tuple[str, ...], ...]
    rows: tuple[int, ...]
    typed: bool = False
    about: str = ""


@dataclass(frozen=True)
class Sheet:
    """A table of text: its header and its rows in pieces; `said` is the header as the file has it,
    where a profile gave the columns other names.
    """

    header: tuple[str, ...]
    pieces: Iterator[Piece]
    said: tuple[str, ...] = ()


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
    (names,), _ = _next_rows(reader, 1, name, start)
    header = tuple(cell.strip() for cell in names)
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
    """The lines of a file, each ended by a line feed; read and checked in blocks."""
    is_utf8 = settings.encoding.casefold() in ("utf-8", "utf8")
    rest, number = "", 1
    with path.open(encoding="utf-8-sig" if is_utf8 else settings.encoding) as handle:
        while block := _block(handle, path, name, settings.encoding):
            *lines, rest = (rest + block).split("\n")
            _check_block(lines, rest, block, name, number)
            number += len(lines)
            for line in lines:
                yield line + "\n"
    if rest:
        yield rest


def _block(handle: TextIO, path: Path, name: str, encoding: str) -> str:
    try:
        return handle.read(BLOCK)
    except UnicodeDecodeError as error:
        raise DataError(
            f"{name} row {_undecodable(path, encoding)}",
            f"bytes that are no {encoding} text",
            f"text in {encoding}",
            'Save it as UTF-8, or declare its encoding in site.toml: [intake] encoding = "cp1252".',
        ) from error


def _undecodable(path: Path, encoding: str) -> int:
    """Number of the first line that cannot be decoded."""
    with path.open("rb") as handle:
        for number, line in enumerate(handle, start=1):
            try:
                line.decode(encoding)
            except UnicodeDecodeError:
                return number
    return 1


def _check_block(lines: list[str], rest: str, block: str, name: str, number: int) -> None:
    """Tell lines without end, zero bytes and garbled letters."""
    if len(rest) > MOST_LINE or (lines and len(lines[0]) > MOST_LINE):
        row = number if lines and len(lines[0]) > MOST_LINE else number + len(lines)
        raise DataError(
            f"{name} row {row}",
            f"a line of more than {MOST_LINE} characters",
            "rows of ordinary length",
            "Check that this file is the table that was meant.",
        )
    if block.isascii() and "\0" not in block:
        return
    for row, line in enumerate((*lines, rest), start=number):
        _check_line(line, name, row)


def _check_line(line: str, name: str, number: int) -> None:
    if "\0" in line:
        raise _other_kind(f"{name} row {number}", "a zero byte")
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


def _next_rows(
    reader: Iterator[list[str]], count: int, name: str, row: int
) -> tuple[list[list[str]], list[int]]:
    """Up to `count` rows with the numbers of the lines on which they begin."""
    cells: list[list[str]] = []
    before: int = reader.line_num  # type: ignore[attr-defined]
    try:
        cells.extend(islice(reader, count))
    except csv.Error as error:
        raise DataError(
            f"{name} row {row + sum(map(_lines_of, cells))}",
            f"a row that cannot be taken apart ({error})",
            "quotes in pairs, and cells of ordinary length",
            "Look for a quotation mark that is not closed, and correct it.",
        ) from error
    read: int = reader.line_num - before  # type: ignore[attr-defined]
    if read == len(cells):
        return cells, list(range(row, row + read))
    return cells, list(accumulate(map(_lines_of, cells[:-1]), initial=row))


def _lines_of(row: list[str]) -> int:
    return 1 + sum(cell.count("\n") for cell in row)


def _pieces(
    reader: Iterator[list[str]], width: int, name: str, start: int, settings: SiteSettings
) -> Iterator[Piece]:
    while True:
        row = start + reader.line_num  # type: ignore[attr-defined]
        cells, rows = _next_rows(reader, PIECE_ROWS, name, row)
        if not cells:
            return
        filled = [i for i, r in enumerate(cells) if any(r) and (r[0].strip() or _is_filled(r))]
        if len(filled) < len(cells):
            cells, rows = [cells[i] for i in filled], [rows[i] for i in filled]
        if bad := [i for i, r in enumerate(cells) if len(r) != width]:
            first = bad[0]
            raise _ragged(f"{name} row {rows[first]}", len(cells[first]), width, len(bad), settings)
        if cells:
            yield Piece(tuple(zip(*cells, strict=True)), tuple(rows))


def _is_filled(row: list[str]) -> bool:
    return any(map(str.strip, row))


def _ragged(where: str, found: int, width: int, count: int, settings: SiteSettings) -> DataError:
    advice = "Check the row for a missing cell, or for text with a delimiter and no quotes."
    if found > width and settings.delimiter == ",":
        advice = (
            "Look for decimal commas or text with commas: write 12.5 and not 12,5, "
            "and put such text in quotation marks."
        )
    more = f" ({count - 1} more rows do not fit the header either)" if count > 1 else ""
    return DataError(where, f"{found} cells{more}", f"{width} as in the header", advice)
