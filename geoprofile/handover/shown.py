"""What would show private data by another way: rows computed for the same holes, zones and tests.

A derived table whose rows belong to the places of a private table, and which was computed from it,
repeats it more or less in full: it stays at home too. What was estimated from it for other places
leaves, and is named.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from geoprofile.plugins.registry import plugins
from geoprofile.schema import TABLES

if TYPE_CHECKING:
    from geoprofile.plugins import Layer


def taken_along(private: Sequence[str]) -> tuple[str, ...]:
    """Derived tables that stay at home with private tables."""
    found: set[str] = set()
    for name in (n for n in private if "." not in n):
        found |= _repeating(name)
    return tuple(t for t in TABLES if t in found - set(private))


def still_showing(private: Sequence[str]) -> tuple[str, ...]:
    """Derived tables that leave although they rest on private data, by whatever way."""
    resting = _resting({n.partition(".")[0] for n in private})
    kept = {n for n in private if "." not in n} | set(taken_along(private))
    return tuple(t for t in TABLES if t in resting - kept)


def _layers() -> Collection[Layer]:
    found: Collection[Layer] = plugins("layers").values()
    return found


def _resting(tables: set[str]) -> set[str]:
    """Every table computed from these, or from what was computed from these."""
    known, found = set(tables), set[str]()
    while True:
        more = {t for x in _layers() if known & set(x.reads) for t in x.writes} - found
        if not more:
            return found
        found |= more
        known |= more


def _repeating(name: str) -> set[str]:
    """Tables with rows for the same places that were computed from a table, or from such tables."""
    places, found = _places(name), set[str]()
    while True:
        known = {name, *found}
        more = {
            t for x in _layers() if known & set(x.reads) for t in x.writes if _named(t) & places
        }
        if more <= found:
            return found
        found |= more


def _named(table: str) -> set[str]:
    """Tables whose rows a table names in a column of theirs."""
    return {c.name for c in TABLES[table].columns if c.name in TABLES}


def _places(table: str) -> set[str]:
    """The table and all that its rows belong to: result, sample, interval.

    The borehole counts only where there is nothing finer: rows on a hole as a whole do not repeat
    what was measured in one of its zones.
    """
    found, waiting = set[str](), [table]
    while waiting:
        one = waiting.pop()
        if one not in found:
            found.add(one)
            waiting += [c.references for c in TABLES[one].columns if c.references]
    return found - {"borehole"} if "interval" in found else found
