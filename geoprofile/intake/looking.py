"""Looks at an unknown file: encoding, delimiter, where the header stands, which table it is."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, zip_longest
from pathlib import Path

from geoprofile.errors import DataError
from geoprofile.intake.files import sheet_names
from geoprofile.intake.grids import Line, lines_of
from geoprofile.intake.headings import joined
from geoprofile.intake.names import BAROMETER, tables_in
from geoprofile.intake.profiles import BOOKS
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.trade_words import fit, meant
from geoprofile.intake.unit_words import suffix_of
from geoprofile.schema import INPUT

PEEK = 400  # rows that are looked at
MOST_ABOVE = 80  # rows in which a header may stand
MOST_BYTES = 4 << 20
PEEK_TEXT = 1 << 20  # characters
DELIMITERS = (";", "\t", "|", ",")  # a comma may be a decimal mark, so it comes last
FEW = 2  # columns that must be known before a row counts as a header


@dataclass(frozen=True)
class Look:
    """What a file looks like; `heads` are the rows of its header, 0 where none was found."""

    source: SourceFile
    settings: SiteSettings
    lines: tuple[Line, ...]
    heads: tuple[int, ...]
    table: str
    has_units: bool

    @property
    def headings(self) -> tuple[str, ...]:
        """The names over the columns."""
        return joined([cells_at(self.lines, h) for h in self.heads])

    @property
    def units(self) -> tuple[str, ...]:
        """The cells of the row of units."""
        return cells_at(self.lines, self.heads[-1] + 1) if self.has_units else ()

    @property
    def block(self) -> tuple[Line, ...]:
        """The lines above the header."""
        return tuple(x for x in self.lines if self.heads and x.number < self.heads[0])

    @property
    def data(self) -> tuple[Line, ...]:
        """The rows below header and units."""
        last = self.heads[-1] + self.has_units if self.heads else 0
        return tuple(x for x in self.lines if x.number > last and not x.is_empty)


def look_at(
    path: Path, name: str, settings: SiteSettings, *, table: str = "", sheet: str = ""
) -> Look:
    """What an unknown file looks like.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its path in the site folder.
    settings : SiteSettings
        Of the site; what the file says otherwise replaces them.
    table : str
        The table it fills, if that is known.
    sheet : str
        The sheet of a workbook; the one that fits best if not said.

    Returns
    -------
    Look
        With the first few hundred rows.

    Raises
    ------
    DataError
        No such file, or nothing that looks like a table.
    """
    if not path.is_file():
        raise DataError(str(path), "no such file", "a file to look at", "Check the path.")
    if path.suffix.casefold() in BOOKS:
        names = [sheet] if sheet else sheet_names(path)
        looks = [_sheet(path, f"{name}#{n}", n, settings, table) for n in names]
        return max(looks, key=_weight)
    local = replace(settings, encoding=encoding_of(path))
    source = SourceFile(path, name, table, "", path.stat().st_size)
    delimiter = _delimiter(path, local.encoding)
    return _looked(source, replace(local, delimiter=delimiter), table, path.stem)


def _sheet(path: Path, name: str, sheet: str, settings: SiteSettings, table: str) -> Look:
    source = SourceFile(path, name, table, "", path.stat().st_size, sheet)
    return _looked(source, settings, table, sheet)


def _weight(look: Look) -> int:
    return sum(fit(look.headings, look.table)) if look.heads else 0


def encoding_of(path: Path) -> str:
    """The encoding of a text file: UTF-16 by its mark, UTF-8 where it fits, else Windows-1252."""
    with path.open("rb") as handle:
        start = handle.read(MOST_BYTES)
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    try:
        start[: len(start) - 3 if len(start) == MOST_BYTES else None].decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _delimiter(path: Path, encoding: str) -> str:
    """The delimiter that cuts most rows into the same number of cells."""
    with path.open(encoding=encoding, errors="replace", newline="") as handle:
        lines = [x for x in handle.read(PEEK_TEXT).splitlines()[:PEEK] if x.strip()]
    tail = lines[len(lines) // 3 :] or lines  # the header block has no columns
    best, weight = ",", 0
    for delimiter in DELIMITERS:
        counts = Counter(len(_cut(line, delimiter)) for line in tail)
        count = counts.most_common(1)[0][0] if counts else 1
        if count > 1 and count * counts[count] > weight:
            best, weight = delimiter, count * counts[count]
    return best


def _cut(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return []


def _looked(source: SourceFile, settings: SiteSettings, table: str, stem: str) -> Look:
    lines = tuple(islice(_safe(lines_of(source, settings)), PEEK))
    below = "readings/" in source.name
    named = (table,) if table else (("reading",) if below else tables_in(stem))
    every = (*(t.name for t in INPUT), BAROMETER)
    heads, found = header_of(lines, named or every)
    if not heads and named and not table:
        heads, found = header_of(lines, every)
    wide = wide_header_of(lines) if "result" in (named or every) else ()
    if wide and (not heads or (not named and heads == wide and found == "sample")):
        heads, found = wide, "result"
    source = replace(source, table=found)
    return Look(source, settings, lines, heads, found, bool(heads) and _units_below(lines, heads))


def _safe(lines: Iterator[Line]) -> Iterator[Line]:
    """The rows up to the first that cannot be taken apart, which is told when the file is read."""
    try:
        yield from lines
    except DataError as error:
        if "taken apart" not in error.problem.found:
            raise


def header_of(lines: Sequence[Line], tables: Sequence[str]) -> tuple[tuple[int, ...], str]:
    """The rows that look most like the header of one of the tables; () for none."""
    best: tuple[tuple[int, ...], str] = ((), tables[0] if len(tables) == 1 else "")
    weight = 0
    for line, after in zip_longest(lines, lines[1:]):
        if line.number > MOST_ABOVE:
            break
        for table in tables:
            alone = _weigh(line.cells, table)
            if alone > weight:
                best, weight = ((line.number,), table), alone
            if after is None or after.number != line.number + 1:
                continue
            both = _weigh(joined([line.cells, after.cells]), table)
            if both > weight and both > max(alone, _weigh(after.cells, table)):
                best, weight = ((line.number, after.number), table), both
    return best


def wide_header_of(lines: Sequence[Line]) -> tuple[int, ...]:
    """The row over a wide laboratory table: sample or analyte, then names over values."""
    for line, *below in zip(lines, lines[1:], lines[2:], lines[3:], strict=False):
        filled = [i for i, c in enumerate(line.cells) if c.strip()]
        named = [i for i in filled if _is_key(line.cells[i])]
        if line.number > MOST_ABOVE or not named or len(filled) < FEW + 1:
            continue
        others = [i for i in filled if i not in named]
        values = [x.cells[i] for x in below for i in others if i < len(x.cells)]
        if sum(c.strip()[:1].isdigit() or c.strip()[:1] in "<" for c in values if c.strip()) >= 2:
            return (line.number,)
    return ()


def _is_key(heading: str) -> bool:
    column = meant(heading, "result")
    return column is not None and column.name in ("sample", "analyte")


def _weigh(cells: Sequence[str], table: str) -> int:
    """How much a row looks like a header: known names, needed ones more, lost in others less."""
    filled = [c for c in cells if c.strip()]
    needed, known = fit(filled, table)
    if known < FEW or needed == 0:
        return 0
    return 20 * needed + 10 * known - (len(filled) - known)


def _units_below(lines: Sequence[Line], heads: tuple[int, ...]) -> bool:
    """Whether the row below the header holds units."""
    cells = [c.strip() for c in cells_at(lines, heads[-1] + 1) if c.strip()]
    units = [c for c in cells if suffix_of(c, "US")]
    return len(units) >= 1 and not any(c[:1].isdigit() for c in cells)


def cells_at(lines: Sequence[Line], number: int) -> tuple[str, ...]:
    """The cells of a row by its number."""
    return next((x.cells for x in lines if x.number == number), ())
