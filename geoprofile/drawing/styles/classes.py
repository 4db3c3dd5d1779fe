"""Rules made from the rows of a layer: classes by word, by band or by value, in groups."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from geoprofile.drawing.styles.colours import CHANCE, GROUND, PLUME, Ramp
from geoprofile.drawing.styles.model import Condition, Rule, Symbol

Row = Mapping[str, Any]
STEPS = (1.0, 3.0)  # classes of a logarithmic scale begin at 1 and 3 of each decade
MOST_CLASSES = 9


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
    """One colour per band, the darker the higher its lower value."""

    lower: str = "lower"
    label: str = "label"

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns whose values the rules are made from."""
        return self.lower, self.label, "quantity", "statistic"

    def rules(self, rows: Sequence[Row], base: Symbol) -> tuple[Rule, ...]:
        """A rule per band that occurs, from low to high."""
        bands = {row[self.label]: row[self.lower] for row in rows if row[self.label]}
        ordered = sorted(bands, key=lambda text: _or_lowest(bands[text]))
        colours = ramp_of(rows[0] if rows else {}).colours(len(ordered))
        return tuple(
            Rule(text, (Condition(self.label, "=", text),), replace(base, colour=colour))
            for text, colour in zip(ordered, colours, strict=True)
        )


@dataclass(frozen=True)
class Values:
    """Classes of a logarithmic scale of a column; rows without a value are drawn hollow."""

    column: str
    ramp: Ramp | None = None
    hollow_title: str = ""
    unit: str = ""

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns whose values the rules are made from; the unit where it differs by row."""
        return (self.column,) if self.unit else (self.column, "unit")

    def rules(self, rows: Sequence[Row], base: Symbol) -> tuple[Rule, ...]:
        """A rule per class that the values span, from low to high."""
        values = [float(r[self.column]) for r in rows if r[self.column] is not None]
        edges = log_edges([v for v in values if v > 0])
        ramp = self.ramp or ramp_of(rows[0] if rows else {})
        colours = ramp.colours(len(edges) - 1) if len(edges) > 1 else []
        unit = self.unit or str((rows[0] if rows else {}).get("unit") or "")
        found = [
            Rule(
                _range(low, high, unit),
                _between(self.column, low, high),
                replace(base, colour=colour),
            )
            for low, high, colour in zip(edges[:-1], edges[1:], colours, strict=True)
        ]
        if self.hollow_title:
            empty = (Condition(self.column, "=", None),)
            found.append(Rule(self.hollow_title, empty, replace(base, colour="#ffffff")))
        return tuple(found)


Classes = Words | Bands | Values


def ramp_of(row: Row) -> Ramp:
    """The ramp of a row's quantity: probability, K or transmissivity T, or concentration."""
    if "prob" in str(row.get("statistic") or ""):
        return CHANCE
    return GROUND if row.get("quantity") in ("K", "T") else PLUME


def log_edges(values: Sequence[float]) -> list[float]:
    """Edges at 1 and 3 of each decade around the values; whole decades when these are many."""
    if not values:
        return []
    low, high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)) + 1e-9)
    high = max(high, low + 1)
    steps = STEPS if 2 * (high - low) <= MOST_CLASSES + 1 else STEPS[:1]
    edges = [float(f"{s}e{d}") for d in range(low, high) for s in steps] + [float(f"1e{high}")]
    first = max((i for i, e in enumerate(edges) if e <= min(values)), default=0)
    last = min((i for i, e in enumerate(edges) if e > max(values)), default=len(edges) - 1)
    return edges[first : last + 1]


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
    return Condition(column, ">=", low), Condition(column, "<", high)


def _range(low: float, high: float, unit: str) -> str:
    return f"{low:g} to {high:g} {unit}".rstrip()
