"""What an inspection of the site file finds, and what it looks at."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from geoprofile.store.connection import FAULTS, quoted

SHOWN_PER_KIND = 5
REPAIR = "Run 'geoprofile check --repair'."
RESTORE = "Put back a safety copy."
IN_GIS = "Correct it in the GIS."

Severity = Literal["error", "warning"]


@dataclass(frozen=True)
class Finding:
    """One fault in the file: a short code, where it is, what it is, and the first thing to do."""

    code: str
    severity: Severity
    place: str
    what: str
    what_to_do: str

    def __str__(self) -> str:
        """`severity code place: what. What to do.`"""
        return f"{self.severity} {self.code} {self.place}: {self.what}. {self.what_to_do}"


def error(code: str, place: str, what: str, what_to_do: str) -> Finding:
    """A fault that makes the file, a table or a row unfit."""
    return Finding(code, "error", place, what, what_to_do)


def warning(code: str, place: str, what: str, what_to_do: str) -> Finding:
    """Something the user should look at."""
    return Finding(code, "warning", place, what, what_to_do)


def folded(findings: Iterable[Finding]) -> list[Finding]:
    """The findings, with only the first few of each kind and place and the number of the rest."""
    kept: list[Finding] = []
    last: dict[tuple[str, str], int] = {}
    counts: dict[tuple[str, str], int] = {}
    for finding in findings:
        kind = (finding.code, finding.place)
        counts[kind] = counts.get(kind, 0) + 1
        if counts[kind] <= SHOWN_PER_KIND:
            last[kind] = len(kept)
            kept.append(finding)
    for kind, place in last.items():
        more = counts[kind] - SHOWN_PER_KIND
        if more > 0:
            kept[place] = replace(kept[place], what=f"{kept[place].what} (and {more} more)")
    return kept


@dataclass(frozen=True, eq=False)
class Layer:
    """One row of the contents list with its geometry column, as far as it has one."""

    name: str
    data_type: str
    last_change: str
    extent: tuple[float | None, ...]
    srs_id: int | None


@dataclass(frozen=True, eq=False)
class Look:
    """What every check needs to know of the file."""

    tables: dict[str, str]
    views: dict[str, str]
    triggers: dict[str, tuple[str, str]]
    layers: dict[str, Layer] = field(default_factory=dict)
    systems: dict[int, tuple[str, str, str]] = field(default_factory=dict)
    extensions: list[tuple[str | None, str | None, str, str]] = field(default_factory=list)
    geometry: list[tuple[str, str, str, int, int, int]] = field(default_factory=list)

    def has(self, name: str) -> bool:
        """Whether a table or view of that name exists."""
        return name in self.tables or name in self.views


def columns(connection: sqlite3.Connection, name: str) -> list[tuple[str, str, int, int]]:
    """(name, declared type, not null, place in the primary key) of each column."""
    try:
        found = connection.execute(f"PRAGMA table_info({quoted(name)})").fetchall()
    except sqlite3.Error:
        return []
    return [(row[1], str(row[2]).upper(), row[3], row[5]) for row in found]


def primary_key(connection: sqlite3.Connection, look: Look, name: str) -> str | None:
    """The integer primary key of a table, or the first column of a view."""
    found = columns(connection, name)
    if name in look.views:
        return found[0][0] if found else None
    return next((c for c, kind, _, key in found if key == 1 and kind == "INTEGER"), None)


# SQLite lets values of any type into any column, so that a check may stumble over one
STUMBLES = (*FAULTS, TypeError, ValueError, ArithmeticError, AttributeError)


def attempt(findings: Iterator[Finding], place: str, advice: str = RESTORE) -> Iterator[Finding]:
    """The findings of one check; one that cannot go on is a finding itself."""
    try:
        yield from findings
    except STUMBLES as fault:
        yield error("unreadable", place, f"it cannot be read ({fault})", advice)
