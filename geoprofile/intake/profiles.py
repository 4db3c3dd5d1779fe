"""Intake profiles: how the files of one laboratory, logger or office are written, as data.

A profile stands in site.toml (`[[intake.profile]]`) or in a file of its own (`[[profile]]`), which
an office keeps and names in each site.toml: `[intake] profiles = ["../profiles/lab.toml"]`.
"""

from __future__ import annotations

import codecs
import difflib
import fnmatch
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from geoprofile.errors import Problem

KEY_ADVICE = "say in [[intake.profile]] of site.toml"
READ = (".csv", ".txt", ".tsv", ".dat", ".asc", ".log", ".tab", ".xlsx", ".xlsm")
BOOKS = (".xlsx", ".xlsm")
REFUSE, LEAVE_OUT = "refuse", "leave out"
NEXT = "next"
# facts of a header block that are no columns
SERIAL, UNIT, START = "serial", "unit", "start"
MOST_BYTES = 1 << 20


@dataclass(frozen=True)
class Profile:
    """How some files are written; "" and empty stand for 'as the site says'.

    `files` are patterns of paths in the site folder, `contains` a text of their first lines that
    tells them from others under the same pattern. `columns` goes from a heading to the column of
    ours (with its unit), "" to leave it out; `header_block` from a column of ours to the label
    above the header beside which its value stands. `wide` says what the headings of the value
    columns are: analytes or samples.
    """

    files: tuple[str, ...]
    table: str
    name: str = ""
    contains: str = ""
    sheet: str = ""
    encoding: str = ""
    delimiter: str = ""
    decimal: str = ""
    thousands: str = ""
    date_format: tuple[str, ...] = ()
    time_zone: str = ""
    depth_from: str = ""
    gallon: str = ""
    header_row: int | str | tuple[int, ...] = 1
    unit_row: int | str = 0
    limit_row: int | str = 0
    skip_rows: tuple[int, ...] = ()
    skip_rows_starting: tuple[str, ...] = ()
    columns: Mapping[str, str] = field(default_factory=dict)
    other_columns: str = REFUSE
    constants: Mapping[str, str] = field(default_factory=dict)
    header_block: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    not_detected: tuple[str, ...] = ()
    wide: str = ""

    @property
    def title(self) -> str:
        """How messages call it."""
        return self.name or self.files[0]


def plain_heading(text: str) -> str:
    """A heading without differences of case and blanks."""
    return " ".join(text.split()).casefold()


def _text(value: Any) -> bool:
    return isinstance(value, str)


def _texts(value: Any) -> bool:
    return _text(value) or (isinstance(value, list) and all(map(_text, value)))


def _count(value: Any) -> bool:
    return type(value) is int and value >= 0


def _mapping(value: Any) -> bool:
    return isinstance(value, dict) and all(_plain(v) for v in value.values())


def _plain(value: Any) -> bool:
    return isinstance(value, str | int | float) and not isinstance(value, bool)


def _of_choices(*choices: str) -> tuple[Callable[[Any], bool], str]:
    return (lambda v: v in choices), " or ".join(repr(c) for c in choices)


def _rows(value: Any) -> bool:
    return _count(value) or (
        isinstance(value, list) and bool(value) and all(_count(v) and v for v in value)
    )


def is_zone(name: Any) -> bool:
    """Whether a text names a time zone of the IANA list."""
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError, TypeError, AttributeError):
        return False
    return True


def is_encoding(value: Any) -> bool:
    """Whether a text names an encoding of text."""
    try:
        return bool(codecs.lookup(value)._is_text_encoding)
    except (LookupError, TypeError, ValueError):
        return False


MARKS = (",", ".", " ", "'", "none")
RULES: Mapping[str, tuple[Callable[[Any], bool], str]] = {
    "files": (lambda v: _texts(v) and bool(v), 'a pattern such as "lab_one/*.csv", or several'),
    "table": (_text, "the name of a table"),
    "name": (_text, "text"),
    "contains": (_text, "a text of the first lines"),
    "sheet": (_text, "the name of a sheet"),
    "encoding": (is_encoding, "the name of an encoding, such as cp1252 or utf-8"),
    "delimiter": _of_choices(",", ";", "\t", "|"),
    "decimal": _of_choices(".", ","),
    "thousands": _of_choices(*MARKS),
    "date_format": (_texts, "a form such as %d/%m/%Y %H:%M, or several"),
    "time_zone": (is_zone, "a name of the IANA time zones, such as Europe/Paris or Etc/GMT+5"),
    "depth_from": _of_choices("ground", "measuring point", "top of casing"),
    "gallon": _of_choices("US", "imperial"),
    "header_row": (
        lambda v: _text(v) or _rows(v),
        "the number of the row, a list of such, or the text of one of its cells",
    ),
    "unit_row": (lambda v: _count(v) or v == NEXT, 'the number of the row, or "next"'),
    "limit_row": (_count, "the number of the row"),
    "skip_rows": (_rows, "row numbers"),
    "skip_rows_starting": (_texts, "texts with which such rows begin"),
    "columns": (_mapping, "headings and the columns that they fill"),
    "other_columns": _of_choices(REFUSE, LEAVE_OUT),
    "constants": (_mapping, "columns and their value in every row"),
    "header_block": (_mapping, "columns and the labels beside which their values stand"),
    "values": (
        lambda v: isinstance(v, dict) and all(_mapping(x) for x in v.values()),
        "columns, and for each the words of the file and ours",
    ),
    "missing": (_texts, "words that stand for an empty cell"),
    "not_detected": (_texts, "words that mean not detected"),
    "wide": _of_choices("analyte", "sample"),
}
LISTS = ("files", "date_format", "skip_rows_starting", "missing", "not_detected")


def read_profiles(
    said: Any, place: str, table_named: Callable[[str], str | None]
) -> tuple[tuple[Profile, ...], list[Problem]]:
    """Profiles from the tables of a TOML file, and what is wrong with them.

    `table_named` gives the table of a name in singular or plural, or None.
    """
    if not isinstance(said, list) or not all(isinstance(s, dict) for s in said):
        advice = "Begin each profile with a line [[intake.profile]] (or [[profile]])."
        return (), [Problem(place, "no list of profiles", "one table per profile", advice)]
    made: list[Profile] = []
    problems: list[Problem] = []
    for number, table in enumerate(said, start=1):
        title = table.get("name") or f"number {number}"
        where = f"{place}, profile {title}"
        faults = [*_faults(table, where), *_missing(table, where)]
        name = table_named(str(table.get("table", ""))) if not faults else None
        if not faults and name is None:
            faults = [_no_table(table["table"], where)]
        problems += faults
        if not faults:
            made.append(_made({**table, "table": name}))
    return tuple(made), problems


def _no_table(said: str, where: str) -> Problem:
    return Problem(
        where,
        f"table = {said!r}",
        "the name of a table, such as results or readings",
        "See the names of the blank tables that 'geoprofile templates' writes.",
    )


def _made(said: Mapping[str, Any]) -> Profile:
    values = {k: _as_field(k, v) for k, v in said.items()}
    if values.get("decimal") == "," and not values.get("thousands"):
        values["thousands"] = "none"  # said for these very files: a comma is a decimal mark
    return Profile(**values)


def _as_field(key: str, value: Any) -> Any:
    if key in LISTS:
        return (value,) if isinstance(value, str) else tuple(value)
    if key == "skip_rows":
        return (value,) if isinstance(value, int) else tuple(value)
    if key == "header_row" and isinstance(value, list):
        return tuple(value)
    if key in ("columns", "constants", "header_block"):
        return {str(k): str(v) for k, v in value.items()}
    return value


def _faults(said: Mapping[str, Any], where: str) -> list[Problem]:
    problems = []
    for key, value in said.items():
        if key not in RULES:
            near = difflib.get_close_matches(key, RULES, n=1)
            hint = f"Did you mean '{near[0]}'?" if near else "Remove it, or correct its spelling."
            problems.append(Problem(where, f"a key '{key}'", f"one of {', '.join(RULES)}", hint))
            continue
        fits, rule = RULES[key]
        if not fits(value):
            problems.append(Problem(where, f"{key} = {value!r}", rule, "Correct it."))
    return problems


def _missing(said: Mapping[str, Any], where: str) -> list[Problem]:
    return [
        Problem(where, f"no {key}", RULES[key][1], f"Add a line {key} = ...")
        for key in ("files", "table")
        if key not in said
    ]


def profiles_of_file(
    path: Path, shown: str, table_named: Callable[[str], str | None]
) -> tuple[tuple[Profile, ...], list[Problem]]:
    """The profiles of a profile file, and what is wrong with it."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError("more than 1 MB")
        said = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        advice = "Correct the path in site.toml, [intake] profiles; it counts from the site folder."
        return (), [Problem(shown, "no such file", "a file of profiles", advice)]
    except (OSError, ValueError, tomllib.TOMLDecodeError) as error:
        advice = "Correct that line; 'geoprofile inspect FILE' writes a profile to begin with."
        return (), [Problem(shown, f"no profile file ({error})", "[[profile]] tables", advice)]
    others = sorted(set(said) - {"profile"})
    if others:
        advice = "Put every key below a line [[profile]]."
        return (), [Problem(shown, f"a key '{others[0]}'", "[[profile]] tables only", advice)]
    return read_profiles(said.get("profile", []), shown, table_named)


def fits_path(pattern: str, relative: str) -> bool:
    """Whether a path in the site folder fits a pattern; one without '/' fits the name anywhere."""
    wanted, path = pattern.casefold().removeprefix("./"), relative.casefold()
    if "/" not in wanted:
        return fnmatch.fnmatchcase(path.rpartition("/")[2], wanted)
    return _fits_parts(wanted.split("/"), path.split("/"))


def _fits_parts(wanted: Sequence[str], parts: Sequence[str]) -> bool:
    if not wanted:
        return not parts
    if wanted[0] == "**":
        return any(_fits_parts(wanted[1:], parts[i:]) for i in range(len(parts) + 1))
    if not parts:
        return False
    return fnmatch.fnmatchcase(parts[0], wanted[0]) and _fits_parts(wanted[1:], parts[1:])


def claimed_by(path: Path, relative: str, profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """The profiles whose pattern a file fits, whatever it holds."""
    if path.suffix.casefold() not in READ:
        return ()
    return tuple(p for p in profiles if any(fits_path(f, relative) for f in p.files))


def profiles_for(path: Path, relative: str, profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """The profiles that a file fits by its path and, where they ask, by its first lines."""
    claims = claimed_by(path, relative, profiles)
    return tuple(p for p in claims if not p.contains or _holds(path, p))


FIRST_BYTES = 16_384


def _holds(path: Path, profile: Profile) -> bool:
    """Whether the first lines of a file hold the text by which the profile knows it."""
    try:
        with path.open("rb") as handle:
            start = handle.read(FIRST_BYTES)
    except OSError:
        return False
    text = start.decode(profile.encoding or "utf-8-sig", errors="replace")
    return plain_heading(profile.contains) in plain_heading(text)
