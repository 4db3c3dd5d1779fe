"""Which column of ours each column of a profiled file fills, and its cells as we read them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.intake.cells import clean
from geoprofile.intake.grids import Line
from geoprofile.intake.header_block import number_and_unit
from geoprofile.intake.headers import is_ours
from geoprofile.intake.inputs import DEPTHS, base_of, columns_of
from geoprofile.intake.problems import listed, shown
from geoprofile.intake.profiles import LEAVE_OUT, UNIT, Profile, plain_heading
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.intake.text import Piece
from geoprofile.intake.unit_words import is_gallon, parted, suffix_of
from geoprofile.schema import Column

CLOCK = re.compile(r"(?:(\d+):)?(\d+):(\d{1,2}(?:[.,]\d+)?)", re.ASCII)
MIDNIGHT = re.compile(r"[T ]00:00(:00)?$")
NOT_DETECTED = "ND"
DEPTH_FROM = "depth_from"


@dataclass(frozen=True)
class Filled:
    """One of our columns: the columns of the file that fill it (several for day and time)."""

    name: str
    indexes: tuple[int, ...]
    heading: str
    column: Column | None


@dataclass(frozen=True)
class Layout:
    """The columns of ours that a file fills, those with values of a wide table, and constants."""

    filled: tuple[Filled, ...]
    wide: tuple[int, ...]
    constants: Mapping[str, str]
    headings: tuple[str, ...]
    units: tuple[str, ...]
    profile: Profile
    missing: frozenset[str]
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Columns of the file."""
        return len(self.headings)

    @property
    def own(self) -> tuple[str, ...]:
        """Names of the columns of ours, before those of a wide table."""
        return (*(f.name for f in self.filled), *self.constants)

    @property
    def header(self) -> tuple[str, ...]:
        """Names of the columns of ours, in the order of the cells."""
        return (*self.own, *(_wide_names(self) if self.profile.wide else ()))

    @property
    def said(self) -> tuple[str, ...]:
        """The same as the file calls them, for messages."""
        own = (*(f.heading for f in self.filled), *(f"{c} (constant)" for c in self.constants))
        return (*own, *(_wide_names(self) if self.profile.wide else ()))

    def piece(self, lines: Sequence[Line]) -> Piece:
        """Rows of the file as a piece with our columns."""
        columns = [self.cells(f, lines) for f in self.filled]
        columns += [(text,) * len(lines) for text in self.constants.values()]
        return Piece(tuple(columns), tuple(line.number for line in lines))

    def cells(self, filled: Filled, lines: Sequence[Line]) -> tuple[str, ...]:
        """The cells of one of our columns."""
        known: dict[tuple[str, ...], str] = {}
        made = []
        for line in lines:
            texts = tuple(line.cells[i] for i in filled.indexes)
            if texts not in known:
                known[texts] = self.cell(filled, texts)
            made.append(known[texts])
        return tuple(made)

    def cell(self, filled: Filled, texts: Sequence[str]) -> str:
        """A cell with the file's words replaced by ours."""
        parts = [self.plain(filled.name, t) for t in texts]
        text = parts[0] if len(parts) == 1 else _day_and_time(parts)
        if filled.name == "elapsed_s" and (found := CLOCK.fullmatch(text)):
            return _seconds(found, self.profile.decimal or ".")
        return text

    def plain(self, name: str, text: str) -> str:
        """A cell of a column of ours, before it is read."""
        text = clean(text)
        plain = text.casefold()
        if plain in self.missing:
            return ""
        if plain in (words := self.words.get(name, {})):
            return words[plain]
        if name.startswith("value") and plain in map(str.casefold, self.profile.not_detected):
            return NOT_DETECTED
        return text

    def check_unnamed(self, line: Line, cells: Sequence[str]) -> None:
        """Refuse a cell with content in a column without a heading."""
        for heading, cell in zip(self.headings, cells, strict=True):
            if not heading and cell.strip():
                raise DataError(
                    f"row {line.number} of the file that the profile {self.profile.title} reads",
                    f"{shown(cell)} in a column without a heading",
                    "a heading over every column that holds something",
                    "Give it a heading, or say other header rows: header_row in the profile.",
                )


def _wide_names(layout: Layout) -> tuple[str, ...]:
    names = [layout.profile.wide, "value"]
    if "unit" not in layout.own:
        names.append("unit")
    if layout.profile.limit_row:
        names.append("limit")
    return tuple(names)


def _day_and_time(parts: Sequence[str]) -> str:
    """A day and a time of day that stand in two columns."""
    day, *rest = parts
    times = [t for t in rest if t]
    return " ".join([MIDNIGHT.sub("", day) if times else day, *times]).strip()


def _seconds(clock: re.Match[str], decimal: str) -> str:
    """A time on a clock (h:min:s or min:s) as seconds, written as the file writes numbers."""
    hours, minutes, seconds = int(clock[1] or 0), int(clock[2]), clock[3].replace(",", ".")
    return f"{3600 * hours + 60 * minutes + float(seconds):.10g}".replace(".", decimal)


def layout_of(
    headings: Sequence[str],
    units: Sequence[str],
    facts: Mapping[str, str],
    profile: Profile,
    file: SourceFile,
    settings: SiteSettings,
) -> Layout:
    """How the columns of a file fill ours.

    Raises
    ------
    DataErrors
        Headings that the profile does not know, and columns of the profile that are not there.
    """
    wanted = {plain_heading(k): v.strip() for k, v in profile.columns.items()}
    wanted |= {f"#{k[1:]}": v for k, v in profile.columns.items() if k.startswith("#")}
    file_unit = facts.get(UNIT, "")
    filled: dict[str, Filled] = {}
    wide: list[int] = []
    unknown: list[str] = []
    used: set[str] = set()
    columns = columns_of(file.table)
    for i, heading in enumerate(headings):
        target = _target(i, heading, wanted, used, file.table, settings)
        if target is None and heading:
            if profile.wide:
                wide.append(i)
            elif profile.other_columns != LEAVE_OUT:
                unknown.append(heading)
        if not target:
            continue
        unit = (units[i] if i < len(units) else "") or parted(heading)[1] or file_unit
        name = _with_unit(target, unit, columns, settings)
        before = filled.get(name)
        indexes = (*before.indexes, i) if before and _is_time(before.column) else (i,)
        if before and len(indexes) == 1:
            name = f"{name} "  # told as a column given twice
        filled[name] = Filled(name, indexes, heading, _column(name, columns))
    _refuse(unknown, sorted(set(wanted) - used), headings, profile, file)
    facts = {k: v for k, v in facts.items() if k != UNIT}
    constants = dict(_constant(k, v, columns, settings) for k, v in facts.items())
    constants |= {k: v for k, v in profile.constants.items() if k not in constants}
    if profile.depth_from and file.table in DEPTHS:
        constants.setdefault(DEPTH_FROM, profile.depth_from)
    return Layout(
        tuple(filled.values()),
        tuple(wide),
        {k: v for k, v in constants.items() if k not in filled},
        tuple(headings),
        tuple(units),
        profile,
        frozenset(m.casefold() for m in profile.missing),
        _words(profile, filled),
    )


def _words(profile: Profile, filled: Mapping[str, Filled]) -> dict[str, dict[str, str]]:
    """The words of each column by the name under which the file fills it."""
    made: dict[str, dict[str, str]] = {}
    for name in (*filled, "analyte", "sample", "value"):
        said = profile.values.get(name)
        if said:
            made[name] = {str(k).casefold(): str(v) for k, v in said.items()}
    return made


def _target(
    index: int,
    heading: str,
    wanted: Mapping[str, str],
    used: set[str],
    table: str,
    settings: SiteSettings,
) -> str | None:
    """The column of ours that a heading fills; "" to leave it out, None where nobody said."""
    for key in (f"#{index + 1}", plain_heading(heading)):
        if key in wanted:
            used.add(key)
            return wanted[key]
    return heading if is_ours(heading, table, settings) else None


def _column(name: str, columns: Sequence[Column]) -> Column | None:
    return next((c for c in columns if c.name == name), None)


def _is_time(column: Column | None) -> bool:
    return column is not None and column.kind in ("datetime", "date")


def _with_unit(target: str, unit: str, columns: Sequence[Column], settings: SiteSettings) -> str:
    """The name with the unit that the file states, where the name has none."""
    name = re.sub(r"\s+", "_", target.strip().casefold())
    if not unit or (_column(name, columns) and name not in ("value", "limit")):
        return name
    for column in columns:
        base, own = base_of(column)
        if name == base and (own or name in ("value", "limit")):
            suffix = suffix_of(unit, settings.gallon)
            if suffix:
                return f"{base}_{suffix}"
            return f"{base}_{'gal' if is_gallon(unit) else _as_suffix(unit)}"
    return name


def _as_suffix(unit: str) -> str:
    return re.sub(r"\W+", "_", unit.strip().casefold()).strip("_")


def _constant(
    name: str, text: str, columns: Sequence[Column], settings: SiteSettings
) -> tuple[str, str]:
    """A fact of the header block as a constant column; a unit behind the number joins the name."""
    number, unit = number_and_unit(text)
    if not unit:
        return name, text
    column = _column(name, columns)
    if column is not None and column.kind == "real":
        return _with_unit(base_of(column)[0], unit, columns, settings), number
    made = _with_unit(name, unit, columns, settings)
    return (made, number) if made != name else (name, text)


def _refuse(
    unknown: Sequence[str],
    gone: Sequence[str],
    headings: Sequence[str],
    profile: Profile,
    file: SourceFile,
) -> None:
    problems = [
        Problem(
            f"{file.name}, column {heading}",
            f"a column that the profile {profile.title} does not name",
            "every column named, or left out on purpose",
            f'Say in the profile: columns = {{ "{heading}" = "..." }}, with "" to leave it out, or '
            f'other_columns = "{LEAVE_OUT}" for all such.',
        )
        for heading in unknown
    ]
    problems += [
        Problem(
            file.name,
            f"no column '{name}' (there: {listed(h for h in headings if h)})",
            f"the columns that the profile {profile.title} names",
            "Correct columns or header_row in the profile, or the file.",
        )
        for name in gone
    ]
    if problems:
        raise DataErrors(problems)
