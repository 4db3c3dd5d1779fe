"""Marks that several drawings share, as data: areas, lines, grades, proposals, sites of a list.

Figures, layers of the GIS and the report take them from here; a test compares the three.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from geoprofile.drawing.symbols import (
    DASHES,
    FAINT,
    GROUND_LINE,
    INK,
    PAPER,
    PLUME,
    QUIET,
    STOP,
    WARN,
    WATER,
    Line,
)

UNDER_MM = 0.5  # of what lies below a line and is seen beside it, both sides together
MASS = PLUME.at(0.62)  # an amount of a substance where no classes are shown


@dataclass(frozen=True)
class Dashed:
    """A line by the name of its dashes, as every kind of drawing can take it.

    One that is `underlaid` has paper below it, so that it is seen on dark ground too.
    """

    width_mm: float
    dash: str = "solid"
    colour: str = INK
    underlaid: bool = False

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
    def under(self) -> Dashed:
        """The paper below it."""
        return Dashed(round(self.width_mm + UNDER_MM, 3), colour=PAPER)

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
WATER_LEVEL = Dashed(0.4, "dash", WATER, underlaid=True)
TOP_OF_UNIT = Dashed(0.28, "dash", GROUND_LINE, underlaid=True)
HEAD_CONTOUR = Dashed(0.28, "solid", WATER)
FLOW = Dashed(0.65, "solid", WATER)
SECTION = Dashed(0.32, "dash dot", INK)
OUTER = Dashed(0.46, "dash dot dot", INK)  # holds the whole plume
INNER = Dashed(0.46, "dash", STOP)  # lies wholly in it
CRITERION = Dashed(0.38, "dash", STOP)
GRADES: Mapping[str, str] = MappingProxyType(
    {"accepted": WATER, "qualified": WARN, "rejected": PAPER}
)


@dataclass(frozen=True)
class Hatch:
    """Lines over ground: how they run from level [deg], and whether others cross them."""

    deg: int
    crossed: bool = False

    @property
    def letters(self) -> str:
        """As a figure takes it."""
        lines = {0: "+", 45: "x"} if self.crossed else {0: "-", 45: "/", 90: "|", 135: "\\"}
        return 4 * lines[self.deg]


# why a map shows nothing; below water blanks maps of soil gas alone
NO_MAP: Mapping[str, Hatch] = MappingProxyType(
    {
        "above ground": Hatch(45, crossed=True),
        "above the water level": Hatch(0),
        "unit absent or thin": Hatch(90),
        "below the boreholes": Hatch(135),
        "below the water level": Hatch(135),
        "far from data": Hatch(45),
        "uncertain": Hatch(0, crossed=True),
    }
)


# ground whose shape no data hold is covered with rings, over its colour
ASSUMED_WORDS = "shape assumed: not held by the data"
ANY_DEPTH = "any depth"  # where a map lies that is of no elevation


@dataclass(frozen=True)
class SiteMark:
    """A site among many, by its state and its gravest finding, None if it has none.

    The darker its colour, the graver.
    """

    colour: str
    state: str = "finished"
    severity: str | None = None
    form: Literal["circle", "square", "triangle"] = "circle"

    def is_of(self, state: str, severity: str | None) -> bool:
        """Whether a site has it; the findings of one that did not finish do not count."""
        return self.state == state and (state != "finished" or self.severity == severity)


# what is known of a site, the gravest first
SITES: Mapping[str, SiteMark] = MappingProxyType(
    {
        "failed": SiteMark(QUIET, "failed", form="square"),
        "not computed": SiteMark(QUIET, "not computed", form="triangle"),
        "serious finding": SiteMark(STOP, severity="serious"),
        "warning": SiteMark(WARN, severity="warning"),
        "note": SiteMark(FAINT, severity="note"),
        "without findings": SiteMark(PAPER),
    }
)


def site_mark(state: str, severity: str | None) -> str:
    """Which of `SITES` a site has."""
    return next(name for name, mark in SITES.items() if mark.is_of(state, severity))
