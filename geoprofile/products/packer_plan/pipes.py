"""The crew's own pipe lengths, as people say them."""

from __future__ import annotations

import re
from dataclasses import replace

from geoprofile.errors import UsageError
from geoprofile.products.packer_plan.plan import Choices
from geoprofile.units import convert

LENGTH = re.compile(r"([0-9]+(?:[.][0-9]+)?)\s*(m|cm|ft|in)")
LONGEST_M, SHORTEST_M = 12.0, 0.05  # what a crew carries


def with_pipes(choices: Choices, said: str | None) -> Choices:
    """The choices with the pipes of the crew.

    Parameters
    ----------
    choices : Choices
        As they stand.
    said : str, optional
        Such as "10 ft, 5 ft, 2 ft": the longest is the usual pipe, of the others there is one each
        unless they are said again.

    Returns
    -------
    Choices
        Lengths in [m].

    Raises
    ------
    UsageError
        A length without unit, or one that no pipe has.
    """
    if said is None:
        return choices
    found = sorted((_length(part) for part in said.split(",")), reverse=True)
    return replace(choices, pipe_m=found[0], short_pipes_m=tuple(sorted(found[1:])))


def _length(part: str) -> float:
    match = LENGTH.fullmatch(part.strip())
    metres = float("nan")
    if match is not None:
        metres = float(convert(float(match.group(1)), match.group(2), "m"))
    if not SHORTEST_M <= metres <= LONGEST_M:
        raise UsageError(
            "plan --pipes",
            f"'{part.strip()}'",
            f"{SHORTEST_M:g} to {LONGEST_M:g} m with a unit, such as '10 ft' or '3 m'",
            "Give all lengths of the crew's pipes, separated by commas.",
        )
    return metres
