"""Binds the header of a file to the columns of its table, with the unit that each carries."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from geoprofile.errors import Problem
from geoprofile.intake.inputs import base_of, columns_of
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW, SiteSettings
from geoprofile.intake.trade_words import WORDS, meant
from geoprofile.intake.unit_words import is_gallon, suffix_of
from geoprofile.schema import Column, renamed
from geoprofile.units import SUFFIXES, is_convertible

MASS_PER_VOLUME = ("value", "limit")  # columns whose unit stands in the column `unit`
RESERVED = ("fid", "geom", "geometry", "ogc_fid", SOURCE_FILE, SOURCE_ROW)


@dataclass(frozen=True)
class Bound:
    """A column of a file: its place and name there, what it fills, and the unit it is in.

    `suffix` is "" where the values need no conversion. `column` is None for an extra column.
    """

    index: int
    heading: str
    name: str
    column: Column | None
    suffix: str = ""


def bind(
    header: Sequence[str], table: str, source: str, settings: SiteSettings
) -> tuple[tuple[Bound, ...], list[Problem]]:
    """The columns of a header, and what is wrong with it."""
    columns = columns_of(table)
    bound: list[Bound] = []
    problems: list[Problem] = []
    for index, heading in enumerate(header):
        found = _bound(index, heading, table, columns, settings)
        if isinstance(found, Bound):
            bound.append(found)
        else:
            problems.append(Problem(f"{source}, column {heading or index + 1}", *found))
    problems += _twice(bound, source)
    given = {b.name for b in bound}
    for column in columns:
        if column.required and column.name not in given and not problems:
            problems.append(_missing(column, source, header))
    return tuple(bound), problems


def present_name(name: str, table: str) -> str:
    """The name of a column today, whatever its unit, from one that it had in an earlier layout."""
    for old, new in renamed.COLUMNS.get(table, {}).items():
        stem, _, unit = old.rpartition("_")
        if name == old:
            return new
        if unit in SUFFIXES and name.startswith(f"{stem}_"):
            return new.removesuffix(unit) + name.removeprefix(f"{stem}_")
    return name


def _bound(
    index: int, heading: str, table: str, columns: Sequence[Column], settings: SiteSettings
) -> Bound | tuple[str, str, str]:
    name = heading.strip().casefold().replace(" ", "_")
    if not name:
        return ("no name in the header", "a name for every column", "Name or remove the column.")
    name = present_name(name, table)
    for column in columns:
        if name == column.name:
            return Bound(index, heading, column.name, column)
    if name in {c.casefold() for c in settings.extra_columns} and name not in RESERVED:
        return Bound(index, heading, name, None)
    for column in columns:
        suffix = _other_unit(name, column, settings.gallon)
        if suffix is not None:
            return Bound(index, heading, column.name, column, suffix)
    return _unknown(name, heading, columns)


def is_ours(heading: str, table: str, settings: SiteSettings) -> bool:
    """Whether a heading is the name of a column, perhaps with another unit."""
    return isinstance(_bound(0, heading, table, columns_of(table), settings), Bound)


def _other_unit(name: str, column: Column, gallon: str) -> str | None:
    base, own = base_of(column)
    said = name.removeprefix(base + "_")
    suffix = said if said in SUFFIXES else suffix_of(said, gallon)
    if said == name or not suffix:
        return None
    if own:
        return suffix if is_convertible(suffix, own) else None
    if column.name in MASS_PER_VOLUME and is_convertible(suffix, "ug_per_l"):
        return suffix
    return None


def _unknown(name: str, heading: str, columns: Sequence[Column]) -> tuple[str, str, str]:
    for column in columns:
        base, own = base_of(column)
        if own and name == base:
            return (
                "a column without its unit",
                f"the unit in the name, such as {column.name}",
                f"Find out the unit of the values and rename the column, {base}_m or {base}_ft."
                if own == "m"
                else f"Find out the unit of the values and rename the column {column.name}.",
            )
        if own and name.startswith(base + "_") and is_gallon(name.removeprefix(base + "_")):
            return (
                "a unit in gallons, of which it is not said whether US or imperial",
                "usgal or impgal in the name",
                'Say gallon = "US" or gallon = "imperial" in [intake] of site.toml, or in the '
                "file's [[intake.profile]].",
            )
        if own and name.startswith(base + "_"):
            fits = sorted(s for s in SUFFIXES if is_convertible(s, own))
            return (
                f"the unknown unit '{name.removeprefix(base + '_')}'",
                f"one of {', '.join(fits)}",
                f"Write the unit so, or convert the values and name the column {column.name}.",
            )
    names = [c.name for c in columns]
    near = _meant(heading, names) or difflib.get_close_matches(name, names, n=1)
    hint = f"Did you mean {near[0]}? " if near else ""
    return (
        "a column that the table does not have",
        f"one of {', '.join(names)}",
        f'{hint}If it is one of these, say so in its [[intake.profile]]: columns = {{ "{heading}" '
        f'= "..." }}; to keep it is, [intake] extra_columns = ["{name}"].',
    )


def _meant(heading: str, names: Sequence[str]) -> list[str]:
    """The column that people of the trade mean by such a heading."""
    tables = [t for t in WORDS if t and set(names) == {c.name for c in columns_of(t)}]
    found = [c.name for t in tables if (c := meant(heading, t)) is not None]
    return found[:1]


def _twice(bound: Sequence[Bound], source: str) -> list[Problem]:
    names = [b.name for b in bound]
    return [
        Problem(
            f"{source}, column {b.heading}",
            f"{b.name} a second time",
            "each column once",
            "Remove one of the two columns.",
        )
        for i, b in enumerate(bound)
        if b.name in names[:i]
    ]


def _missing(column: Column, source: str, header: Sequence[str]) -> Problem:
    unit = f" [{column.unit}]" if column.unit not in ("", "1") else ""
    return Problem(
        source,
        f"no column {column.name}",
        f"{column.name}: {column.meaning[0].lower()}{column.meaning[1:]}{unit}",
        f"Add the column, or say it for all rows in a profile: constants = {{ {column.name} = "
        f"... }}; the file has {', '.join(header)}.",
    )
