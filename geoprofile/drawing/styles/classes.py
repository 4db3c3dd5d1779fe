"""Rules made from the rows of a layer: classes by word, by band or by value, in groups."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from geoprofile.drawing.levels import flux_levels, levels_of
from geoprofile.drawing.styles.model import Condition, LabelPlace, Rule, Symbol
from geoprofile.drawing.symbols import PAPER, class_colours, class_words, ramp_of
from geoprofile.schema.soil_gas import GAS_UNIT, PER_UG_PER_L, SOIL_GAS

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Words:
    """One symbol per word of a column."""

    column: str
    symbols: Mapping[str | float, tuple[str, Symbol]]

    @property
    def columns(self) -> tuple[str, ...]:
        """No column needs to be read: the words are known."""
        return ()

    def rules(self, rows: Sequence[Row], base: Symbol) -> tuple[Rule, ...]:
        """A rule per word."""
        return tuple(
            Rule(title, (Condition(self.column, "=", word),), symbol)
            for word, (title, symbol) in self.symbols.items()
        )


@dataclass(frozen=True)
class Bands:
    """One colour per band: that of its class in the scale that every drawing of it shares."""

    lower: str = "lower"
    label: str = "label"

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns whose values the rules are made from."""
        return self.lower, self.label, "class_number", "class_count", "quantity", "statistic"

    def rules(self, rows: Sequence[Row], base: Symbol) -> tuple[Rule, ...]:
        """A rule per band that occurs, from low to high."""
        bands = {row[self.label]: row for row in rows if row[self.label]}
        ordered = sorted(bands, key=lambda text: _or_lowest(bands[text][self.lower]))
        return tuple(
            Rule(
                text,
                (Condition(self.label, "=", text),),
                replace(base, colour=_class_colour(bands[text], place, len(ordered))),
            )
            for place, text in enumerate(ordered)
        )


def _class_colour(row: Row, place: int, count: int) -> str:
    """The colour of a band; by its place among those that occur where a file gives no class."""
    quantity, statistic = str(row.get("quantity") or ""), str(row.get("statistic") or "")
    number, known = row.get("class_number"), row.get("class_count")
    if number is None or known is None:
        return ramp_of(quantity, statistic).colours(count)[place]
    return class_colours(quantity, statistic, int(known))[int(number)]


@dataclass(frozen=True)
class Values:
    """Classes of a column, with the levels and colours of the maps of that quantity.

    `what` is K, flux, or "" for the row's own quantity; `limit` the column of the limits of
    non-detects, which are drawn hollow.
    """

    column: str
    what: str = ""
    hollow_title: str = ""
    unit: str = ""
    limit: str = ""

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns whose values the rules are made from; the unit where it differs by row."""
        named = (self.column, *((self.limit,) if self.limit else ()))
        return named if self.unit else (*named, "unit")

    def rules(self, rows: Sequence[Row], base: Symbol) -> tuple[Rule, ...]:
        """A rule per class that the values reach, from low to high."""
        values = [float(r[self.column]) for r in rows if r[self.column] is not None]
        first = rows[0] if rows else {}
        quantity = self.what or str(first.get("quantity") or "")
        unit = self.unit or str(first.get("unit") or "")
        told, factor = _told_in(unit, first)
        levels = self._levels(quantity, [v for v in values if v > 0], rows, factor)
        colours = class_colours(quantity, "median", len(levels) + 1)
        ends = [-math.inf, *levels, math.inf]
        found = [
            Rule(
                class_words(low * factor, high * factor, told),
                _between(self.column, low, high),
                replace(base, colour=colour),
            )
            for low, high, colour in zip(ends[:-1], ends[1:], colours, strict=True)
            if levels and any(low <= v < high for v in values)
        ]
        if self.hollow_title:
            empty = (Condition(self.column, "=", None),)
            found.append(Rule(self.hollow_title, empty, replace(base, colour=PAPER)))
        return tuple(found)

    def _levels(
        self, quantity: str, values: list[float], rows: Sequence[Row], factor: float
    ) -> list[float]:
        """Where the classes divide, as on the maps: round numbers of the unit that is told."""
        limits = [float(r[self.limit]) for r in rows if self.limit and r.get(self.limit)]
        if not (values or limits):
            return []
        if quantity == "flux":
            return flux_levels(max(values))
        told = levels_of(quantity, [v * factor for v in values], [v * factor for v in limits])
        return [level / factor for level in told]


Classes = Words | Bands | Values


@dataclass(frozen=True)
class Look:
    """A symbol, and optionally classes and groups (a map per group) that vary it."""

    symbol: Symbol
    classes: Classes | None = None
    groups: tuple[str, ...] = ()
    label: str = ""
    label_at: LabelPlace = ""
    label_decimals: int | None = None
    label_before: str = ""
    label_along: tuple[str, str] | None = None
    upwards: tuple[str, tuple[str, ...]] | None = None


def _told_in(unit: str, row: Row) -> tuple[str, float]:
    """The unit of the legend, and how many of it make one of the column: soil gas has its own."""
    return (
        (GAS_UNIT, PER_UG_PER_L)
        if unit == "ug/L" and row.get("medium") == SOIL_GAS
        else (unit, 1.0)
    )


def grouped(
    rows: Sequence[Row],
    by: Sequence[str],
    title: Callable[[Row], str],
    rules: Callable[[Sequence[Row]], tuple[Rule, ...]],
) -> tuple[Rule, ...]:
    """One rule per group of rows, with its own classes inside; only one group is shown.

    Shown is the first group, or the one at the middle elevation among those that are otherwise
    like it, so that a layer of many maps opens as one readable map.
    """
    groups: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        groups.setdefault(tuple(row.get(c) for c in by), []).append(row)
    keys = list(groups)
    chosen = _first_shown(keys) if by[-1] == "elevation_m" else keys[:1]
    return tuple(
        Rule(
            title(members[0]),
            tuple(Condition(c, "=", v) for c, v in zip(by, key, strict=True)),
            parts=rules(members),
            shown=key in chosen,
        )
        for key, members in groups.items()
    )


def _first_shown(keys: Sequence[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    alike = [k for k in keys if k[:-1] == keys[0][:-1]]
    return sorted(alike, key=lambda k: _or_lowest(k[-1]))[len(alike) // 2 :][:1]


def _or_lowest(value: Any) -> float:
    return float(value) if isinstance(value, int | float) else -math.inf


def _between(column: str, low: float, high: float) -> tuple[Condition, ...]:
    """From the lower end up to below the upper one; an end that is open asks nothing."""
    found = []
    if math.isfinite(low):
        found.append(Condition(column, ">=", low))
    if math.isfinite(high):
        found.append(Condition(column, "<", high))
    return tuple(found)
