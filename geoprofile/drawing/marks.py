"""Marks that several drawings share, as data: areas, lines of ground and water, grades, proposals.

Figures, layers of the GIS and the report take them from here; a test compares the three.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from geoprofile.drawing.symbols import (
    DASHES,
    GROUND_LINE,
    INK,
    PAPER,
    PLUME,
    STOP,
    WARN,
    WATER,
    Line,
)

MASS = PLUME.at(0.62)  # an amount of a substance where no classes are shown


@dataclass(frozen=True)
class Dashed:
    """A line by the name of its dashes, as every kind of drawing can take it."""

    width_mm: float
    dash: str = "solid"
    colour: str = INK

    @property
    def line(self) -> Line:
        """With its dashes in widths."""
        return Line(self.width_mm, DASHES[self.dash], self.colour)

    @property
    def figure(self) -> dict[str, Any]:
        """As a figure takes it."""
        line = self.line
        return {"color": line.colour, "linewidth": line.points, "linestyle": line.on_off}

    @property
    def edge(self) -> dict[str, Any]:
        """As the outline of a patch of a figure."""
        look = self.figure
        return {"edgecolor": look.pop("color"), **look}


@dataclass(frozen=True)
class Area:
    """An area: its edge, and whether it is crossed out. None is filled: bands lie below it."""

    edge: Dashed
    crossed: bool = False

    @property
    def figure(self) -> dict[str, Any]:
        """As the patch of a figure."""
        hatch = {"hatch": "xxxx"} if self.crossed else {}
        return {**self.edge.edge, "facecolor": "none", **hatch}


AREAS: Mapping[str, Area] = MappingProxyType(
    {
        "site": Area(Dashed(0.45)),
        "source": Area(Dashed(0.45, "dash", STOP)),
        "no drilling": Area(Dashed(0.32, "solid", STOP), crossed=True),
    }
)
GROUND = Dashed(0.6, "solid", GROUND_LINE)
WATER_LEVEL = Dashed(0.4, "dash", WATER)
TOP_OF_UNIT = Dashed(0.28, "dash", GROUND_LINE)
HEAD_CONTOUR = Dashed(0.28, "solid", WATER)
FLOW = Dashed(0.65, "solid", WATER)
SECTION = Dashed(0.32, "dash dot", INK)
OUTER = Dashed(0.46, "dash dot dot", INK)  # holds the whole plume
INNER = Dashed(0.46, "dash", STOP)  # lies wholly in it
CRITERION = Dashed(0.38, "dash", STOP)
GRADES: Mapping[str, str] = MappingProxyType(
    {"accepted": WATER, "qualified": WARN, "rejected": PAPER}
)
