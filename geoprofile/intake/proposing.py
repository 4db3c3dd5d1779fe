"""Proposes an intake profile for a file that was looked at, with what is left to decide."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from geoprofile.intake.cells import clean
from geoprofile.intake.grids import Line
from geoprofile.intake.inputs import SIGNALS, base_of, columns_of
from geoprofile.intake.looking import Look
from geoprofile.intake.looking_at_cells import dates_of, marks_of, missing_of
from geoprofile.intake.profiles import BOOKS, NEXT, Profile
from geoprofile.intake.results import NOT_DETECTED
from geoprofile.intake.trade_words import meant, name_with_unit, plain_words, unit_in
from geoprofile.intake.unit_words import is_gallon, suffix_of
from geoprofile.schema import Column

LIMIT = next(c for c in columns_of("result") if c.name == "limit")
LIKE_VALUE = re.compile(r"[<>]?\s*\d[\d.,' ]*(?:[eE][+-]?\d+)?\s*[A-Za-z*, ]{0,6}|-+")
# labels of a header block (common practice, no source) and the facts they give
LABELS: Mapping[str, tuple[str, ...]] = {
    "serial": ("serial", "serial number", "serial no", "s n", "device serial"),
    "unit": ("unit", "units", "pressure unit", "measurement unit"),
    "air_pressure": (
        "air pressure",
        "barometric pressure",
        "atmospheric pressure",
        "baro",
        "barometer",
    ),
    "logger_started_at": ("start", "start time", "logging started", "started", "start of record"),
    "report": ("report", "report no", "report number", "lab report", "work order", "job no"),
    "reported_on": (
        "report date",
        "date reported",
        "reported",
        "date of report",
        "issued",
        "date issued",
    ),
    "test": ("test", "test id", "test no", "test name", "location"),
}


@dataclass(frozen=True)
class Proposal:
    """A profile, and what somebody has to decide before the file can be read for certain."""

    profile: Profile
    questions: tuple[str, ...]


def propose(look: Look, gallon: str = "") -> Proposal:
    """The profile by which a file would be read, as far as its first rows tell."""
    questions: list[str] = []
    source, table = look.source, look.table
    columns, wide = _columns(look, gallon, questions)
    footers = _footers(look)
    texts = _texts(look, columns, wide, footers)
    decimal, thousands = marks_of(texts, questions)
    is_book = source.path.suffix.casefold() in BOOKS
    heads = look.heads
    columns = _absolute(look, columns, questions)
    block = _block(look, columns)
    profile = Profile(
        files=(source.name.partition("#")[0],),
        table=table,
        sheet=source.sheet,
        contains="" if is_book else _contains(look),
        encoding="" if is_book or look.settings.encoding == "utf-8" else look.settings.encoding,
        delimiter="" if is_book or look.settings.delimiter == "," else look.settings.delimiter,
        decimal=decimal,
        thousands=thousands,
        date_format=dates_of(look, columns, block, questions),
        header_row=heads if len(heads) > 1 else heads[0] if heads else 1,
        unit_row=NEXT if look.has_units else 0,
        limit_row=_limit_row(look) if wide else 0,
        skip_rows_starting=footers,
        columns={h: t for h, t in columns.items() if t != h},
        header_block=block,
        missing=missing_of(texts, questions),
        wide=wide,
        depth_from="top of casing" if _from_casing(look, columns) else "",
    )
    if table == "reading" and not any(c.startswith("test") for c in columns.values()):
        questions.append(
            "readings belong to the test after which the file is named; else say it: "
            'values = { test = { "FILE NAME" = "TEST" } }'
        )
    return Proposal(profile, tuple(dict.fromkeys(questions)))


def _columns(look: Look, gallon: str, questions: list[str]) -> tuple[dict[str, str], str]:
    """From each heading to our column ("" to leave it out), and what a wide table has on top."""
    made: dict[str, str] = {}
    taken: dict[str, str] = {}
    unknown: list[str] = []
    for i, heading in enumerate(look.headings):
        if not heading:
            continue
        column = meant(heading, look.table)
        if column is None or (column.name in taken and column.kind not in ("datetime", "date")):
            unknown.append(heading)
            continue
        unit = look.units[i] if i < len(look.units) else ""
        taken[column.name] = heading
        made[heading] = _name(column, heading, unit, look, gallon, questions)
    wide = _wide(look, taken, unknown)
    if wide:
        made |= {h: "" for h in unknown if not _mostly_values(look, h)}
        return made, wide
    for heading in unknown:
        made[heading] = ""
        questions.append(f"the column '{heading}' is left out: name the column of ours if not")
    for column in columns_of(look.table):
        given = column.name in taken
        if column.required and not given:
            questions.append(
                f"no column for {column.name}: name one, or say constants = {{ {column.name} = "
                "... }"
            )
    return made, ""


def _absolute(look: Look, columns: dict[str, str], questions: list[str]) -> dict[str, str]:
    """A pressure beside an air pressure in the header block is absolute; else that is asked."""
    names = [n for n in columns.values() if n.startswith("pressure")]
    if look.table != "reading" or not names:
        return columns
    if not any(plain_words(_label(x)) in LABELS["air_pressure"] for x in look.block):
        questions.append(
            f"{names[0]}: vented as proposed, or absolute_{names[0]} of a sealed sensor"
        )
        return columns
    return {h: f"absolute_{n}" if n.startswith("pressure") else n for h, n in columns.items()}


def _name(
    column: Column, heading: str, unit: str, look: Look, gallon: str, questions: list[str]
) -> str:
    said = unit_in(heading) or unit
    if is_gallon(said) and not gallon:
        questions.append('gallons: say gallon = "US" or gallon = "imperial"')
        return base_of(column)[0]
    if column.name == "elapsed_s" and ":" in _first_cell(look, heading):
        return column.name  # a clock, which is turned into seconds
    name = name_with_unit(column, heading, unit, gallon)
    base, own = base_of(column)
    if own and name == base and name != column.name:
        in_block = look.table == "reading" and base + "_kpa" in SIGNALS
        if said and not suffix_of(said, gallon):
            questions.append(f"'{heading}': the unit '{said}' is not known; name it: {base}_...")
        elif not in_block:
            questions.append(f"'{heading}': which unit? Name it: {column.name}, or {base}_...")
    return name


def _first_cell(look: Look, heading: str) -> str:
    index = look.headings.index(heading)
    return next((x.cells[index] for x in look.data if index < len(x.cells)), "")


def _wide(look: Look, taken: Mapping[str, str], unknown: Sequence[str]) -> str:
    """Whether the headings that are no columns of ours are analytes or samples."""
    if look.table != "result" or "value" in taken or not unknown:
        return ""
    filled = [h for h in unknown if _mostly_values(look, h)]
    if len(filled) < len(unknown) / 2 or not filled:
        return ""
    if "sample" in taken:
        return "analyte"
    return "sample" if "analyte" in taken else ""


def _mostly_values(look: Look, heading: str) -> bool:
    index = look.headings.index(heading)
    cells = [clean(x.cells[index]) for x in look.data if index < len(x.cells)]
    cells = [c for c in cells if c]
    values = [c for c in cells if LIKE_VALUE.fullmatch(c) or c.casefold() in NOT_DETECTED]
    return bool(cells) and len(values) > len(cells) / 2


def _texts(
    look: Look, columns: Mapping[str, str], wide: str, footers: tuple[str, ...]
) -> list[tuple[str, str]]:
    """The filled cells of columns of numbers, each with the name of its column."""
    real = {c.name for c in columns_of(look.table) if c.kind in ("real", "integer")}
    real |= {base_of(c)[0] for c in columns_of(look.table) if c.kind in ("real", "integer")}
    found = []
    for i, heading in enumerate(look.headings):
        name = columns.get(heading, "value" if wide and heading else "")
        base = re.sub(r"_[a-z0-9]+$", "", name)
        if name in real or base in real or any(name.startswith(r + "_") for r in real if r):
            found += [
                (name, clean(x.cells[i]))
                for x in look.data
                if i < len(x.cells) and x.cells[i] and not _label(x).startswith(footers or ("\0",))
            ]
    return [(n, t) for n, t in found if t]


def _footers(look: Look) -> tuple[str, ...]:
    """The beginnings of rows below the header that are no data: notes and totals."""
    width, found = len(look.headings), []
    needed = {c.name for c in columns_of(look.table) if c.required}
    must = [
        i for i, h in enumerate(look.headings) if (c := meant(h, look.table)) and c.name in needed
    ]
    for line in look.data:
        filled = [c.strip() for c in line.cells if c.strip()]
        lacking = any(i >= len(line.cells) or not line.cells[i].strip() for i in must)
        short = len(line.cells) != width and len(filled) <= max(1, width // 3)
        lone = len(filled) <= max(1, width // 3) and width > 2 and lacking
        if short or lone:
            found.append(_beginning(filled[0]))
    return tuple(dict.fromkeys(f for f in found if f))


def _limit_row(look: Look) -> int:
    """The row of a wide table that holds the reporting limits, by its first cell."""
    return next((x.number for x in look.data if meant(_label(x), "result") == LIMIT), 0)


def _beginning(text: str) -> str:
    words = re.split(r"[\d:=]", text)[0].split()
    return " ".join(words[:3]) or text[:12]


def _block(look: Look, columns: Mapping[str, str]) -> dict[str, str]:
    """Facts above the header that the table can use, with their labels."""
    names = set(columns.values())
    signals = {n for n in names if n.startswith(("absolute_pressure", "pressure", "depth_to"))}
    wanted = {"serial"} if look.table == "reading" else {"report", "reported_on"}
    if look.table == "reading":
        wanted.add("test")
        if any(n == "absolute_pressure" or n.startswith("absolute") for n in names):
            wanted.add("air_pressure")
        if signals & {base_of(c)[0] for c in columns_of("reading")}:
            wanted.add("unit")
        if not any(n == "measured_at" for n in names):
            wanted.add("logger_started_at")
    elif look.table != "result":
        return {}
    found: dict[str, str] = {}
    for line in look.block:
        label = _label(line)
        for fact in sorted(wanted):
            if fact not in found and plain_words(label) in LABELS[fact] and fact not in names:
                found[fact] = label
    return found


def _label(line: Line) -> str:
    first = next((c.strip() for c in line.cells if c.strip()), "")
    return re.split(r"[:=]", first.lstrip("# "))[0].strip()


def _contains(look: Look) -> str:
    """The first line above the header, if it has words alone: it tells one logger from another."""
    first = next((x for x in look.block if not x.is_empty), None)
    if first is None or look.table != "reading":
        return ""
    cells = [c.strip() for c in first.cells if c.strip()]
    return cells[0] if len(cells) == 1 and not re.search(r"\d{3}|[:=]", cells[0]) else ""


def _from_casing(look: Look, columns: Mapping[str, str]) -> bool:
    """Whether headings say that depths count from the top of the casing."""
    words = [plain_words(h) for h in look.headings if columns.get(h)]
    return any(re.search(r"\b(btoc|toc|top of casing|mp)\b", w) for w in words)


def is_plain(look: Look, proposal: Proposal) -> bool:
    """Whether the file is read as it is, without a profile."""
    profile = proposal.profile
    bare = replace(profile, files=(), table="", sheet="", header_row=1, columns={})
    renamed = any(t != h for h, t in profile.columns.items())
    return bare == Profile(files=(), table="") and look.heads == (1,) and not renamed
