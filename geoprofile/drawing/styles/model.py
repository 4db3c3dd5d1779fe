"""The style model: symbols and rules, from which both QML and SLD are written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Shape = Literal["marker", "line", "fill"]
Sign = Literal["=", "<", ">="]


@dataclass(frozen=True)
class Symbol:
    """How a feature is drawn.

    `colour` fills, or draws a line; `outline` is the edge, "" for none; `width_mm` the width of a
    line or edge; `size_mm` and `form` belong to markers; `dash` is "solid", "dash" or "dot";
    `hatch` draws a fill as lines. `depth_rings` draws a line as a marker at its top that is the
    wider the deeper it lies, so that intervals of a vertical hole show as rings on the map.
    `arrow` draws a line as an arrow.
    """

    shape: Shape
    colour: str = ""
    outline: str = ""
    width_mm: float = 0.3
    size_mm: float = 3.0
    form: Literal["circle", "square", "diamond", "triangle", "star", "cross"] = "circle"
    dash: Literal["solid", "dash", "dot"] = "solid"
    opacity: float = 1.0
    hatch: bool = False
    depth_rings: bool = False
    arrow: bool = False


@dataclass(frozen=True)
class Condition:
    """A column compared with a value; a value of None asks for an empty cell."""

    column: str
    sign: Sign
    value: str | float | bool | None


@dataclass(frozen=True)
class Rule:
    """Features that meet every condition: drawn with the symbol, or divided by further rules.

    A rule that is not `shown` stands unticked in the legend.
    """

    title: str
    conditions: tuple[Condition, ...] = ()
    symbol: Symbol | None = None
    parts: tuple[Rule, ...] = ()
    shown: bool = True


@dataclass(frozen=True)
class Style:
    """The style of one layer.

    `label` is the column written beside each feature, "" for none; `label_at` sets it at the top or
    the middle of a line, or below a point; `label_decimals` rounds it where it is a number.
    `aliases` names the columns in words with units; `defaults` gives QGIS expressions for the cells
    of a newly drawn feature. `has_z` says that shapes bring their own elevations.
    """

    table: str
    shape: Shape | None
    rules: tuple[Rule, ...] = ()
    label: str = ""
    label_at: Literal["", "top", "middle", "below"] = ""
    label_decimals: int | None = None
    aliases: Mapping[str, str] = field(default_factory=dict)
    defaults: Mapping[str, str] = field(default_factory=dict)
    has_z: bool = False
