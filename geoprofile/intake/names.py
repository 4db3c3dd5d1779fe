"""Which table the name of a file or sheet speaks of."""

from __future__ import annotations

import re

from geoprofile.schema import INPUT, renamed

IRREGULAR = {
    "criterion": "criteria",
    "lithology": "lithologies",
    "construction": "constructions",
    "pipe_loss": "pipe_losses",
}
BAROMETER = "barometer"


def _names() -> dict[str, str]:
    names = {BAROMETER: BAROMETER}
    for table in INPUT:
        names[table.name] = table.name
        names[plural(table.name)] = table.name
    for old, new in renamed.TABLES.items():
        if new in names:
            names |= {old: new, plural(old): new}
    return names


def plural(table: str) -> str:
    """The name under which a file of that table usually goes."""
    return IRREGULAR.get(table, table + "s")


def table_of(name: str) -> str | None:
    """The table that a file or sheet of exactly that name fills, singular or plural; else None."""
    return _names().get(re.sub(r"[\s-]+", "_", name.strip().casefold()))


def tables_in(name: str) -> tuple[str, ...]:
    """The tables that a name speaks of, before or after other words: `results_MW-10` of results.

    Those named last come first: `test_readings` are readings.
    """
    if exact := table_of(name):
        return (exact,)
    words = [w for w in re.split(r"[\W_]+", name.casefold()) if w]
    names = _names()
    found: list[tuple[int, str]] = []
    used: set[int] = set()
    for size in (2, 1):  # 'water_level' before 'water'
        for start in range(len(words) - size + 1):
            place = set(range(start, start + size))
            table = names.get("_".join(words[start : start + size]))
            if table is not None and not place & used:
                used |= place
                found.append((start, table))
    return tuple(dict.fromkeys(t for _, t in sorted(found, reverse=True)))


def without_table(name: str) -> str:
    """A name without the word for its table at the beginning: `readings_T1` gives `T1`."""
    for known in sorted(_names(), key=len, reverse=True):
        if name.casefold().startswith(known) and name[len(known) :].strip(" _-."):
            return name[len(known) :].strip(" _-.")
    return name
