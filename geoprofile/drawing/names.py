"""Short names for drawings: what they have in common is cut, never what tells them apart."""

from __future__ import annotations

from collections.abc import Iterable

LONGEST = 14  # letters beside a borehole
BREAKS = " -_/."


def short_names(names: Iterable[str], longest: int = LONGEST) -> dict[str, str]:
    """A short form for each name, all different.

    Parameters
    ----------
    names : iterable of str
        Of one kind, such as all boreholes of a site.
    longest : int
        Letters of a short form, where the names can be told apart in so many.

    Returns
    -------
    dict of str to str
        A name that is short enough stays; of a long one the end is kept, behind an ellipsis.
    """
    every = list(dict.fromkeys(names))
    long = [n for n in every if len(n) > longest]
    common = _common(long)
    found = {n: n for n in every}
    for size in range(longest, max((len(n) for n in long), default=0) + 2):
        for name in long:
            rest = name[common:] if common else name
            found[name] = f"…{rest if len(rest) < size else rest[1 - size :]}"
        if len(set(found.values())) == len(every):
            return found
    return {n: n for n in every}


def _common(names: list[str]) -> int:
    """How many letters at the start all names share, up to the last break between words."""
    if len(names) < 2:
        return 0
    first, last = min(names), max(names)  # what these two share, all between them share
    count = next((i for i, (a, b) in enumerate(zip(first, last, strict=False)) if a != b), 0)
    return max((i + 1 for i, letter in enumerate(first[:count]) if letter in BREAKS), default=0)


def near_end(name: str) -> str:
    """What stands at the start of a section: A of a section named A-A'."""
    first, mark, last = name.partition("-")
    return first if mark and last in (f"{first}'", first) else name


def far_end(name: str) -> str:
    """What stands at the end of a section: A' of A and of A-A'."""
    return f"{near_end(name)}'"
