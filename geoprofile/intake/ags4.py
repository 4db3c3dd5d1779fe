"""AGS4 files (edition 4.1.1): checked by the standard's rules, then read group by group."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.formats._ags4_map import (
    BY_NAME,
    EDITION,
    GROUPS,
    MOMENT,
    READ_KINDS,
    UNITS,
    Group,
    Head,
)
from geoprofile.formats._common import library
from geoprofile.intake.ags4_standard import USED, completed
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.sources import SourceFile
from geoprofile.intake.text import Piece, Sheet

RULE, STOPPED = "AGS Format Rule", "Validator Process Error"
OF_THE_FILE = ("PROJ", "TRAN", "ABBR", "DICT", "UNIT", "TYPE", "FILE")  # about the file itself
MOST_BYTES = 200_000_000
TAKEN = "a heading that says so"
LOOK = "Look at the rows, and edit those that the file means otherwise."
ADVICE = "Correct the line, or ask whoever made the file for one that keeps the rules."
Table = list[dict[str, str]]


def groups_of(path: Path) -> list[tuple[str, str]]:
    """Groups of a file that fill a table, with the table's name.

    Raises
    ------
    DataError
        A file that is too large or is no AGS4.
    DataErrors
        Every broken rule of the standard with its line and group.
    """
    tables, _ = _read(str(path), path.stat().st_mtime_ns)
    return [
        (g.name, g.table) for g in GROUPS if g.table and g.name in tables and _is_as_told(g, tables)
    ]


def _is_as_told(group: Group, tables: Mapping[str, Table]) -> bool:
    """Whether a group that the file defines is ours, and not another of the same name."""
    told = {r.get("DICT_DESC") for r in tables.get("DICT", ()) if _defines(r, group.name)}
    return not group.parent or told == {group.says}


def _defines(row: Mapping[str, str], name: str) -> bool:
    return row.get("DICT_TYPE") == "GROUP" and row.get("DICT_GRP") == name


@lru_cache(maxsize=4)
def _read(path: str, _: int) -> tuple[Mapping[str, Table], tuple[str, ...]]:
    """Rows of every group, and what was taken from headings of the standard, in words."""
    ags4 = library("python_ags4.AGS4", "ags4")
    place = Path(path)
    if place.stat().st_size > MOST_BYTES:
        raise DataError(place.name, "a file of this size", "200 MB at most", "Split the file.")
    problems = [*_broken(ags4, place)]
    if problems:
        raise DataErrors(problems)
    try:
        with _quiet():
            tables, _headings, _lines = ags4.AGS4_to_dataframe(path, get_line_numbers=True)
    except Exception as error:
        raise _no_file(place.name, type(error).__name__) from error
    rows = {name: frame.astype(str).to_dict("records") for name, frame in tables.items()}
    return rows, completed(rows)


@contextmanager
def _quiet() -> Iterator[None]:
    """Without the library's own words on the screen, and its remarks on other libraries."""
    logger = logging.getLogger("python_ags4")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logger.setLevel(before)


def _broken(ags4: Any, place: Path) -> Iterator[Problem]:
    try:
        with _quiet():
            errors = ags4.check_file(str(place), standard_AGS4_dictionary=EDITION)
    except Exception as error:  # the checker of a hostile file may fail in any way
        raise _no_file(place.name, type(error).__name__) from error
    rules = {rule: found for rule, found in errors.items() if rule.startswith(RULE)}
    if not rules and (stopped := errors.get(STOPPED)):
        raise _no_file(place.name, str(stopped[0]["desc"]))
    yield from (
        Problem(
            f"{place.name} line {e['line']}, group {e['group'] or '-'}", e["desc"], rule, ADVICE
        )
        for rule, found in rules.items()
        for e in found
    )


def _no_file(name: str, what: str) -> DataError:
    return DataError(
        name,
        f"a file that cannot be read ({what})",
        f"AGS4, edition {EDITION}",
        ADVICE,
    )


def read_group(file: SourceFile, notes: list[Problem]) -> Sheet:
    """One group as a table with our headers; `notes` is told of headings that are not read."""
    tables, taken = _read(str(file.path), file.path.stat().st_mtime_ns)
    rows, group = tables[file.sheet], BY_NAME[file.sheet]
    units = next((r for r in rows if r["HEADING"] == "UNIT"), {})
    data = [r for r in rows if r["HEADING"] == "DATA" and _is_ours(group, r)]
    known = {c.name for c in columns_of(group.table)}
    heads = [h for h in group.heads if h.column in known and h.name in units]
    _tell_unread(file, group, data, notes)
    if group.name == next(name for name, _ in groups_of(file.path)):
        _tell_unread_groups(file, tables, notes)
        notes += [Problem(file.path.name, words, TAKEN, LOOK) for words in taken]
    header = [_header(h, units[h.name]) for h in heads]
    columns = [tuple(_value(group, h, r) for r in data) for h in heads]
    if group.kinds and "kind" not in header:
        header.append("kind")
        columns.append((group.kinds[0],) * len(data))
    lines = tuple(int(r["line_number"]) for r in data)
    return Sheet(tuple(header), iter([Piece(tuple(columns), lines, typed=True)] if data else []))


def _is_ours(group: Group, row: Mapping[str, str]) -> bool:
    """Whether a row fills the table; a point where the open hole is measured is no zone."""
    return group.name != "MONG" or row["MONG_ID"] != row["LOCA_ID"]


def _header(head: Head, unit: str) -> str:
    """The column's name, with the suffix of the unit that the file has."""
    suffix = UNITS.get(unit)
    own = UNITS.get(head.unit)
    if suffix is None or own is None or suffix == own or not head.column.endswith(f"_{own}"):
        return head.column
    return head.column.removesuffix(own) + suffix


def _value(group: Group, head: Head, row: Mapping[str, str]) -> str:
    text: str = row[head.name]
    if head.name == "HORN_INCL" and text:
        return repr(90.0 - float(text))
    if group.name == "MOND" and head.name == "MONG_ID" and text == row["LOCA_ID"]:
        return ""
    if text and (offset := row.get(_offset_heading(group, head), "")):
        return _local(text, offset)
    if head.codes:
        return head.codes.get(text, READ_KINDS.get(text, text))
    return text


def _offset_heading(group: Group, head: Head) -> str:
    """The heading with the offset of that time from UTC; empty if the group has none."""
    if head.kind != "DT" or head.unit != MOMENT:
        return ""
    return next((h.name for h in group.heads if h.column == f"{head.column}_offset"), "")


def _local(text: str, offset: str) -> str:
    """A time in UTC as it was written, with its offset; both as they stand if they are no such."""
    try:
        zone = datetime.strptime(offset, "%z").tzinfo
        return datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(zone).isoformat()
    except ValueError:
        return f"{text} {offset}"


def _tell_unread_groups(
    file: SourceFile, tables: Mapping[str, Table], notes: list[Problem]
) -> None:
    """Groups with data that no table takes; told once, with the first group that is read."""
    known = {name for name, _ in groups_of(file.path)} | set(OF_THE_FILE)
    known |= {g.name for g in GROUPS if not g.table}
    filled = sorted(n for n, rows in tables.items() if n not in known and rows)
    if filled:
        notes.append(
            Problem(
                file.path.name,
                f"groups that are not read: {', '.join(filled)}",
                "groups that a table here takes",
                "Nothing need be done; the file keeps them.",
            )
        )


def _tell_unread(
    file: SourceFile, group: Group, data: list[dict[str, Any]], notes: list[Problem]
) -> None:
    """Headings with data that no column takes."""
    known = {h.name for h in group.heads} | {"HEADING", "line_number", *USED}
    filled = sorted({k for r in data for k, v in r.items() if k not in known and v})
    if filled:
        notes.append(
            Problem(
                file.name,
                f"headings that are not read: {', '.join(filled)}",
                "headings that a table here has a column for",
                "Nothing need be done; the file keeps them.",
            )
        )
