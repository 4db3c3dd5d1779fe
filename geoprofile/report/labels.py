"""Where the names of boreholes stand in a drawing of the report, so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypeAlias

LETTER, ABOVE, BELOW = 7.2, 10.0, 3.0  # [px] of a letter: width, and reach about its line
DOT = 6.0  # [px] half a borehole
Anchor: TypeAlias = Literal["start", "middle", "end"]
Place: TypeAlias = tuple[float, float, Anchor]
Box: TypeAlias = tuple[float, float, float, float]


def beside(x: float, y: float) -> list[Place]:
    """Places for the name of a borehole on a map, the best first [px]."""
    return [
        (x + 8, y + 4, "start"),
        (x - 8, y + 4, "end"),
        (x, y - 9, "middle"),
        (x, y + 18, "middle"),
    ]


def above(x: float, y: float) -> list[Place]:
    """Places for the name of a borehole on a section, the lowest first [px]."""
    return [(x, y - 8 - 13.5 * row, "middle") for row in range(3)]


def placed(
    names: Sequence[str],
    places: Sequence[Sequence[Place]],
    width: float,
    dots: Sequence[tuple[float, float]] = (),
) -> list[Place | None]:
    """A place for each name that covers no other name and no dot.

    Parameters
    ----------
    names : sequence of str
        As they will stand.
    places : sequence of sequence of Place
        For each name its places, the best first [px].
    width : float [px]
        Of the drawing.
    dots : sequence of two float [px]
        What is drawn and must be seen.

    Returns
    -------
    list of Place or None
        None where there is no room.
    """
    taken: list[Box] = [(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in dots]
    found: list[Place | None] = []
    for name, wanted in zip(names, places, strict=True):
        free = next((p for p in wanted if _is_free(box_of(name, p), taken, width)), None)
        if free is not None:
            taken.append(box_of(name, free))
        found.append(free)
    return found


def left_out(drawn: str) -> str:
    """What a caption says of names that found no room in a drawing; "" where all did."""
    count = drawn.count('class="name quiet"')
    return f" {count} name(s) left out for lack of room." if count else ""


def box_of(name: str, place: Place) -> Box:
    """What a name covers: left, top, right, bottom [px]."""
    x, y, anchor = place
    wide = LETTER * len(name)
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
    return left, y - ABOVE, left + wide, y + BELOW


def _is_free(box: Box, taken: Sequence[Box], width: float) -> bool:
    left, top, right, bottom = box
    if left < 0 or right > width or top < 0:
        return False
    return not any(left < r and right > x and top < b and bottom > y for x, y, r, b in taken)
