"""The style model: symbols and rules, from which both QML and SLD are written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Shape = Literal["marker", "line", "fill"]
Sign = Literal["=", "<", ">="]
LabelPlace = Literal["", "top", "middle", "below", "around", "ends", "beside"]


@dataclass(frozen=True)
class Symbol:
    """How a feature is drawn.

    `colour` fills, or draws a line; `outline` is the edge, "" for none; `width_mm` the width of a
    line or edge; `size_mm` and `form` belong to markers; `dash` names one of `symbols.DASHES`;
    `hatch` draws a fill as lines, at `hatch_deg` from level, `crossed` others across them.
    `depth_rings` draws a line as a marker at its top that is the wider the deeper it lies, so that
    intervals of a vertical hole show as rings on the map. `arrow` draws a line as an arrow.
    """

    shape: Shape
    colour: str = ""
    outline: str = ""
    width_mm: float = 0.3
    size_mm: float = 3.0
    form: Literal["circle", "square", "diamond", "triangle", "star", "cross"] = "circle"
    dash: str = "solid"  # one of symbols.DASHES
    opacity: float = 1.0
    hatch: bool = False
    hatch_deg: float = 45.0
    crossed: bool = False
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
class Parent:
    """The table from whose rows a cell is picked.

    `narrowed_by` is a column that both tables have: rows are offered that agree in it.
    """

    table: str
    key: str
    narrowed_by: str = ""


Widget = Literal["hidden", "text", "long text", "words", "yes or no", "pick", "day", "time", "file"]


@dataclass(frozen=True)
class Entry:
    """How a column is filled in by hand.

    Numbers are typed as text, for the number boxes of a GIS round what they show. `words` are the
    allowed ones; `rule` is a QGIS expression that a cell must meet, `help` says it in words.
    """

    column: str
    widget: Widget
    words: tuple[str, ...] = ()
    parent: Parent | None = None
    required: bool = False
    unique: bool = False
    rule: str = ""
    help: str = ""


@dataclass(frozen=True)
class Style:
    """The style of one layer.

    `label` is the column written beside each feature, "" for none; `label_at` sets it at the top,
    the middle or both ends of a line, below or around a point, or level in an area or beside it;
    `label_along` is a column and the word in it of areas whose label runs along their edge;
    `label_decimals` rounds it where it is a number, and `label_before` stands before it.
    `upwards` is a column and its words in the order in which features are drawn, the topmost last.
    `aliases` names the columns in words with units; `defaults` gives QGIS expressions for the cells
    of a newly drawn feature. `has_z` says that shapes bring their own elevations. `entries` are the
    cells of the form; none for a table that is not filled in by hand.
    """

    table: str
    shape: Shape | None
    rules: tuple[Rule, ...] = ()
    label: str = ""
    label_at: LabelPlace = ""
    label_decimals: int | None = None
    label_before: str = ""
    label_along: tuple[str, str] | None = None
    upwards: tuple[str, tuple[str, ...]] | None = None
    aliases: Mapping[str, str] = field(default_factory=dict)
    defaults: Mapping[str, str] = field(default_factory=dict)
    has_z: bool = False
    entries: tuple[Entry, ...] = ()


def layer_id(table: str, part: str = "") -> str:
    """By what a project knows the layer of a table; QGIS gives short names up for its own."""
    return f"geoprofile_{table}_{part}" if part else f"geoprofile_{table}"
