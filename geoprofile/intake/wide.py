"""Wide laboratory tables, one column per analyte or per sample, as one row per result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from geoprofile.intake.grids import Line
from geoprofile.intake.profile_columns import Layout
from geoprofile.intake.profiles import Profile
from geoprofile.intake.text import Piece
from geoprofile.intake.unit_words import parted

PIECE_ROWS = 20_000


def wide_pieces(
    rows: Iterator[Line], layout: Layout, limits: Sequence[str], profile: Profile
) -> Iterator[Piece]:
    """A piece per column of values; an empty cell there is an analyte that was not asked for."""
    taken: list[Line] = []
    for line in rows:
        taken.append(line)
        if len(taken) == PIECE_ROWS:
            yield from _of_lines(taken, layout, limits, profile)
            taken = []
    if taken:
        yield from _of_lines(taken, layout, limits, profile)


def _of_lines(
    lines: Sequence[Line], layout: Layout, limits: Sequence[str], profile: Profile
) -> Iterator[Piece]:
    for index in layout.wide:
        heading = layout.headings[index]
        texts = [layout.plain("value", line.cells[index]) for line in lines]
        kept = [(line, text) for line, text in zip(lines, texts, strict=True) if text]
        if not kept:
            continue
        some = [line for line, _ in kept]
        piece = layout.piece(some)
        name, unit = _name_and_unit(heading, index, layout, profile)
        more: list[tuple[str, ...]] = [(name,) * len(some), tuple(text for _, text in kept)]
        if "unit" not in layout.own:
            more.append((unit,) * len(some))
        if profile.limit_row:
            limit = limits[index].strip() if index < len(limits) else ""
            more.append((limit.lstrip("< "),) * len(some))
        yield Piece((*piece.columns, *more), piece.rows, about=heading)


def _name_and_unit(heading: str, index: int, layout: Layout, profile: Profile) -> tuple[str, str]:
    """The analyte (or sample) of a column, and the unit over it."""
    unit = layout.units[index].strip() if index < len(layout.units) else ""
    name = heading
    if profile.wide == "analyte":
        bare, in_heading = parted(heading)
        if in_heading and not unit:
            name, unit = bare, in_heading
    return layout.plain(profile.wide, name), unit
