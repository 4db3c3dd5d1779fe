"""A file as a profile describes it, turned into a table with our columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from typing import TYPE_CHECKING

from geoprofile.errors import DataError, Problem
from geoprofile.intake.grids import Line, lines_of
from geoprofile.intake.header_block import facts_of
from geoprofile.intake.headings import joined
from geoprofile.intake.problems import shown
from geoprofile.intake.profile_columns import Layout, layout_of
from geoprofile.intake.profiles import BOOKS, NEXT, SERIAL, Profile, plain_heading
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.tables import read_sheet
from geoprofile.intake.text import Piece, Sheet
from geoprofile.intake.wide import wide_pieces

if TYPE_CHECKING:
    import pandas as pd

PIECE_ROWS = 20_000
MOST_ABOVE = 1000  # rows in which the header is looked for by one of its cells
REMARK = "remark"  # attribute of a frame: what the header block says of the file
SAID = ("delimiter", "decimal", "thousands", "encoding", "time_zone", "date_format", "gallon")


@dataclass(frozen=True)
class Top:
    """What is no data: header block, headings, rows of units and limits; and rows between these."""

    block: tuple[Line, ...]
    headings: tuple[str, ...]
    units: tuple[str, ...]
    limits: tuple[str, ...]
    rest: tuple[Line, ...] = ()


def settings_for(profile: Profile, settings: SiteSettings) -> SiteSettings:
    """The site's declarations, with what the profile says otherwise."""
    said = {k: getattr(profile, k) for k in SAID if getattr(profile, k)}
    return replace(settings, **said)


def read_profiled(
    file: SourceFile, settings: SiteSettings, problems: list[Problem]
) -> pd.DataFrame:
    """The rows of a file as its profile describes them; faults are added to `problems`."""
    profile = file.profile
    if profile is None:
        raise ValueError("a file without a profile")
    local = settings_for(profile, settings)
    lines = lines_of(file, local)
    top = read_top(lines, profile, file.name)
    facts = facts_of(top.block, profile.header_block, file.name, profile.title)
    serial = facts.pop(SERIAL, "")
    layout = layout_of(top.headings, top.units, facts, profile, file, local)
    rows = data_rows(chain(top.rest, lines), layout, profile, file)
    pieces = (
        wide_pieces(rows, layout, top.limits, profile) if profile.wide else _pieces(rows, layout)
    )
    frame = read_sheet(Sheet(layout.header, pieces, layout.said), file, local, problems)
    if serial:
        frame.attrs[REMARK] = f"logger {serial}" if file.table == "reading" else f"number {serial}"
    return frame


def read_top(lines: Iterator[Line], profile: Profile, source: str) -> Top:
    """Take the lines up to the first row of data.

    Raises
    ------
    DataError
        The file ends before its header, or no row has the cell that marks it.
    """
    taken: dict[int, Line] = {}
    heads = _header_rows(lines, profile, source, taken)
    units = heads[-1] + 1 if profile.unit_row == NEXT else int(profile.unit_row)
    limits = int(profile.limit_row)
    last = max(*heads, units, limits)
    while not taken or max(taken) < last:
        line = next(lines, None)
        if line is None:
            raise DataError(
                source,
                f"{max(taken, default=0)} rows",
                f"a header and units up to row {last}, as the profile {profile.title} says",
                "Correct header_row, unit_row or limit_row in the profile, or the file.",
            )
        taken[line.number] = line
    if heads == (0,):
        width = len(taken[max(taken)].cells)
        rest = tuple(taken[n] for n in sorted(taken))
        return Top((), tuple(f"#{i + 1}" for i in range(width)), (), (), rest)
    rows = [taken[h].cells if h in taken else () for h in heads]
    block = tuple(taken[n] for n in sorted(taken) if n < min(heads) and n not in (units, limits))
    special = (*heads, units, limits)
    rest = tuple(taken[n] for n in sorted(taken) if n > heads[-1] and n not in special)
    return Top(block, joined(rows), _cells(taken, units), _cells(taken, limits), rest)


def _cells(taken: Mapping[int, Line], row: int) -> tuple[str, ...]:
    return taken[row].cells if row in taken else ()


def _header_rows(
    lines: Iterator[Line], profile: Profile, source: str, taken: dict[int, Line]
) -> tuple[int, ...]:
    said = profile.header_row
    if isinstance(said, tuple):
        return tuple(sorted(said))
    if isinstance(said, int):
        return (said,)
    wanted = plain_heading(said)
    for line in lines:
        taken[line.number] = line
        if any(plain_heading(c) == wanted for c in line.cells):
            return (line.number,)
        if line.number > MOST_ABOVE:
            break
    raise DataError(
        source,
        f"no row with a cell '{said}'",
        f"the header, which the profile {profile.title} knows by that cell",
        "Correct header_row in the profile (a number, or the text of a cell of the header).",
    )


def data_rows(
    lines: Iterator[Line], layout: Layout, profile: Profile, file: SourceFile
) -> Iterator[Line]:
    """The rows of data, all as wide as the header; those that the profile skips are left out."""
    starts = tuple(plain_heading(s) for s in profile.skip_rows_starting)

    is_book = file.path.suffix.casefold() in BOOKS
    width, count = layout.width, 0
    for line in lines:
        if line.is_empty or line.number in profile.skip_rows:
            continue
        first = plain_heading(next((c for c in line.cells if c.strip()), ""))
        if starts and first.startswith(starts):
            continue
        cells = line.cells
        if len(cells) > width and not any(c.strip() for c in cells[width:]):
            cells = cells[:width]
        if len(cells) < width and is_book:
            cells = cells + ("",) * (width - len(cells))
        if len(cells) != width:
            raise _ragged(line, width, profile, file.name)
        layout.check_unnamed(line, cells)
        count += 1
        yield Line(line.number, cells)
    if not count:
        raise DataError(
            file.name,
            "no rows below the header",
            "rows of data",
            "Check the file, or header_row in its profile.",
        )


def _ragged(line: Line, width: int, profile: Profile, source: str) -> DataError:
    start = next((c.strip() for c in line.cells if c.strip()), "")
    return DataError(
        f"{source} row {line.number}",
        f"{len(line.cells)} cells, beginning with {shown(start)}",
        f"{width} as in the header",
        f"If it is no row of data, say skip_rows_starting = [{shown(start)}] in the profile "
        f"{profile.title}; else look for a missing cell, or a delimiter in a text.",
    )


def _pieces(rows: Iterator[Line], layout: Layout) -> Iterator[Piece]:
    taken: list[Line] = []
    for line in rows:
        taken.append(line)
        if len(taken) == PIECE_ROWS:
            yield layout.piece(taken)
            taken = []
    if taken:
        yield layout.piece(taken)
