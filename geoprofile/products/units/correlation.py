"""Which hydrostratigraphic unit each part of a borehole's log belongs to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from geoprofile.errors import UsageError

FEWEST_HOLES = 3  # that a unit must be correlated between before the logs alone speak


@dataclass(frozen=True)
class Met:
    """A unit met by a borehole, depths along the hole from ground [m].

    `number` is its position in the order of units; `other_m` [m] is how much of it is logged as
    another unit.
    """

    number: int
    top_m: float
    bottom_m: float
    other_m: float


@dataclass(frozen=True)
class Row:
    """One row of a log: depths along the hole [m], and the name of the material."""

    top_m: float
    bottom_m: float
    name: str


@dataclass(frozen=True)
class Units:
    """Units from top to bottom, and which of them each name of the logs belongs to."""

    names: tuple[str, ...]
    number: Mapping[str, int]

    @classmethod
    def of(cls, entries: Sequence[str]) -> Units:
        """Units as the user lists them.

        Parameters
        ----------
        entries : sequence of str
            From top to bottom: a name of the logs, or "unit = name, name, ..." for several.

        Returns
        -------
        Units
            Names are compared without regard to case.

        Raises
        ------
        UsageError
            An entry without a name, or a name in two units.
        """
        names: list[str] = []
        number: dict[str, int] = {}
        for position, entry in enumerate(entries):
            title, _, members = str(entry).partition("=")
            names.append(title.strip())
            for member in (members or title).split(","):
                key = plain(member)
                if not key or key in number:
                    raise UsageError(
                        "geology.units",
                        f"'{entry}'" + (f", where '{key}' comes again" if key else ""),
                        "'unit', or 'unit = name, name', each name of the logs once",
                        "Correct units under [geology] in site.toml.",
                    )
                number[key] = position
        return cls(tuple(names), number)

    def met(self, log: Sequence[Row]) -> list[Met]:
        """Cut a log into the units in their order.

        Parameters
        ----------
        log : sequence of Row
            From top to bottom [m].

        Returns
        -------
        list of Met
            From top to bottom, without gaps [m]; empty where no row belongs to a unit.

        Notes
        -----
        Of all ways to cut the hole, the one that agrees with most metres of the log: a lens of
        another unit is taken in by what surrounds it. Rows that belong to no unit go to the unit
        above them, at the top of the log to the one below.
        """
        known = [row for row in log if plain(row.name) in self.number]
        if not known:
            return []
        logged = [self.number[plain(row.name)] for row in known]
        length = [row.bottom_m - row.top_m for row in known]
        cut = _ordered(logged, length, len(self.names))
        found = []
        for number, group in groupby(range(len(known)), key=lambda i: cut[i]):
            rows = list(group)
            other = sum(length[i] for i in rows if logged[i] != number)
            found.append(Met(number, known[rows[0]].top_m, known[rows[-1]].bottom_m, other))
        ends = [log[0].top_m, *(unit.top_m for unit in found[1:]), log[-1].bottom_m]
        return [
            Met(unit.number, top, bottom, unit.other_m)
            for unit, (top, bottom) in zip(found, pairwise(ends), strict=True)
        ]


def plain(name: str) -> str:
    """A name as it is compared: without outer blanks and case."""
    return " ".join(name.split()).casefold()


def _ordered(logged: Sequence[int], length: Sequence[float], count: int) -> list[int]:
    """A number per row, never falling, that agrees with the most length."""
    best = np.zeros((len(logged) + 1, count))
    came = np.zeros((len(logged), count), dtype=int)
    for i, (own, size) in enumerate(zip(logged, length, strict=True)):
        before = best[i]
        for k in range(count):
            came[i, k] = int(np.argmax(before[: k + 1]))
            best[i + 1, k] = before[came[i, k]] + (size if k == own else 0.0)
    numbers = [int(np.argmax(best[-1]))]
    for i in range(len(logged) - 1, 0, -1):
        numbers.append(int(came[i, numbers[-1]]))
    numbers.reverse()
    # Rows above the first that agrees go with it, not with a unit that the hole may not meet.
    first = next(i for i, own in enumerate(logged) if own == numbers[i])
    return [numbers[first]] * first + numbers[first:]


def correlated(logs: Mapping[str, Sequence[Row]]) -> list[str]:
    """Units that the logs themselves give, without a list of the user's.

    Parameters
    ----------
    logs : Mapping of str to sequence of Row
        By borehole, from top to bottom [m].

    Returns
    -------
    list of str
        Names from top to bottom; empty unless every borehole meets each material once, all in one
        order, and at least three boreholes meet two or more.
    """
    sequences = [
        [name for name, _ in groupby(plain(row.name) for row in log)] for log in logs.values()
    ]
    if sum(len(names) > 1 for names in sequences) < FEWEST_HOLES:
        return []
    if any(len(set(names)) < len(names) for names in sequences):
        return []
    return _one_order(sequences)


def _one_order(sequences: Sequence[Sequence[str]]) -> list[str]:
    """The only order that agrees with all sequences; empty when there is none, or are several."""
    left = {name for names in sequences for name in names}
    after = {(a, b) for names in sequences for a, b in pairwise(names)}
    found: list[str] = []
    while left:
        first = [name for name in left if not any((a, name) in after for a in left)]
        if len(first) != 1:
            return []
        found += first
        left -= set(first)
    return found
