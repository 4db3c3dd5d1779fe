"""Facts from the lines above the header: serial number, start, unit, air pressure, report."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from geoprofile.errors import DataError
from geoprofile.intake.grids import Line
from geoprofile.intake.problems import listed
from geoprofile.intake.profiles import plain_heading

WITH_UNIT = re.compile(r"([-+]?\d[\d.,]*)\s*([^\d\s].*)")


def facts_of(
    block: Sequence[Line], labels: Mapping[str, str], source: str, profile: str
) -> dict[str, str]:
    """What stands beside each label in the lines above the header, by the name of the fact.

    Raises
    ------
    DataError
        A label that is not there, or has nothing beside it.
    """
    found: dict[str, str] = {}
    for name, label in labels.items():
        value = _beside(block, label)
        if not value:
            raise DataError(
                source,
                f"no '{label}' in the lines above the header (there: "
                f"{listed(_labels(block)) or 'none'})",
                f"{name}, which the profile {profile} takes from there",
                "Correct header_block in the profile, or give the value as a constant.",
            )
        found[name] = value
    return found


def _beside(block: Iterable[Line], label: str) -> str:
    wanted = plain_heading(label).rstrip(":=# ")
    for line in block:
        cells = [c.strip() for c in line.cells]
        for i, cell in enumerate(cells):
            plain = plain_heading(cell.lstrip("# "))
            if plain.rstrip(":= ") == wanted:
                return next((c for c in cells[i + 1 :] if c), "")
            rest = cell.lstrip("# ")[len(wanted) :].strip()
            if plain.startswith(wanted) and rest.startswith((":", "=")):
                return _whole(rest[1:], cells[i + 1 :])
    return ""


def _whole(first: str, others: Sequence[str]) -> str:
    """The rest of a cell; where the delimiter stood in it, or nothing, the next cell with it."""
    return first.strip() or next((c for c in others if c), "")


def _labels(block: Iterable[Line]) -> list[str]:
    cells = [next((c.strip() for c in line.cells if c.strip()), "") for line in block]
    return [re.split("[:=]", c)[0].strip()[:30] for c in cells if c]


def number_and_unit(text: str) -> tuple[str, str]:
    """A number and the unit behind it; the text and "" where it is not of that form."""
    found = WITH_UNIT.fullmatch(text.strip())
    return (found[1], found[2].strip()) if found else (text.strip(), "")
