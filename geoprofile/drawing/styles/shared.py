"""Symbols that the layers of several products share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from geoprofile.drawing.marks import NO_MAP, Area, Dashed
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Shape, Symbol
from geoprofile.drawing.symbols import (
    FAINT,
    PROBABILITY_DASH,
    PROBABILITY_LINES,
    WATER,
    exceedance_words,
)

WORK_BLUE = WATER
WordSymbols = Mapping[str | float, tuple[str, Symbol]]
RING = Symbol("line", outline=INK, width_mm=0.2, size_mm=3, depth_rings=True)
BAND = Symbol("fill", outline="", opacity=0.85)
BLANK = Symbol("fill", FAINT, FAINT, 0.2, hatch=True)
ASSUMED = Symbol("fill", INK, INK, 0.1, hatch=True)


def line_symbol(mark: Dashed, **more: Any) -> Symbol:
    """A line as every other drawing has it."""
    under = mark.under.colour if mark.underlaid else ""
    return Symbol("line", mark.colour, under, mark.width_mm, dash=mark.dash, **more)


def edge_symbol(mark: Dashed, **more: Any) -> Symbol:
    """The same round an area."""
    look: dict[str, Any] = {"outline": mark.colour, "width_mm": mark.width_mm, "dash": mark.dash}
    return Symbol("fill", **{**look, **more})


def area_symbol(look: Area) -> Symbol:
    """An area: its edge, crossed out where nobody may drill."""
    if not look.crossed:
        return edge_symbol(look.edge)
    return edge_symbol(look.edge, colour=look.edge.colour, hatch=True, crossed=True)


def blanks(reasons: Iterable[str]) -> WordSymbols:
    """Places without a value: for each reason its name, and the lines that all maps have for it."""
    looks = ((reason, NO_MAP[reason]) for reason in reasons)
    return {
        reason: (reason, replace(BLANK, hatch_deg=float(look.deg), crossed=look.crossed))
        for reason, look in looks
    }


def plume_edges(shape: Shape) -> WordSymbols:
    """Plume edges, as in every drawing: the 50 % edge is the strongest line."""
    return {
        p: (
            exceedance_words(p),
            Symbol(shape, outline=line.colour, width_mm=line.width_mm, dash=PROBABILITY_DASH[p]),
        )
        for p, line in PROBABILITY_LINES.items()
    }
