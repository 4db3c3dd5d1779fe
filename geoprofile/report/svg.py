"""From metres to the page: scales, paths and colours for drawings that we write ourselves."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import shapely

from geoprofile.drawing.edges import edge_lines
from geoprofile.drawing.levels import levels_of, nice_step
from geoprofile.drawing.symbols import PAPER, class_colours, class_words

COARSE_PX = 0.4  # outlines are kept to this
NONE_COLOUR = PAPER


@dataclass(frozen=True)
class View:
    """A window of metres onto pixels: `left` and `high` [m] at the upper left inner corner."""

    left: float
    high: float
    px_per_m_x: float
    px_per_m_y: float
    width: float
    height: float
    margin: tuple[float, float] = (0.0, 0.0)

    def x(self, metres: float) -> float:
        """Pixels from the left."""
        return round(self.margin[0] + (metres - self.left) * self.px_per_m_x, 1)

    def y(self, metres: float) -> float:
        """Pixels from the top."""
        return round(self.margin[1] + (self.high - metres) * self.px_per_m_y, 1)

    def path(self, shape: Any) -> str:
        """The `d` of a path along lines and rings, in steps of tenths of a pixel."""
        return "".join(self._stroke(line, closed) for line, closed in _lines(shape))

    def _stroke(self, line: Any, closed: bool) -> str:
        points = [(self.x(p[0]), self.y(p[1])) for p in line]
        points = _thinned(points, closed)
        if len(points) < 2 + closed:
            return ""
        text = f"M{_short(points[0][0])} {_short(points[0][1])}l"
        steps = (f"{_short(b[0] - a[0])} {_short(b[1] - a[1])}" for a, b in pairwise(points))
        return text + " ".join(steps).replace(" -", "-") + ("z" if closed else "")


def _lines(shape: Any) -> Iterable[tuple[Sequence[Sequence[float]], bool]]:
    if shape is None or shape.is_empty:
        return
    for one in getattr(shape, "geoms", [shape]):
        if one.geom_type == "Polygon":
            for ring in (one.exterior, *one.interiors):
                yield list(ring.coords), True
        elif one.geom_type == "LineString":
            yield list(one.coords), False
        elif hasattr(one, "geoms"):
            yield from _lines(one)


def _thinned(points: list[tuple[float, float]], closed: bool) -> list[tuple[float, float]]:
    """Fewer points, none farther from the outline than a fraction of a pixel."""
    if len(points) < 3:
        return points
    kept = shapely.LineString(points).simplify(COARSE_PX, preserve_topology=False)
    found = [(float(x), float(y)) for x, y in kept.coords]
    return found[:-1] if closed and found[0] == found[-1] else found


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0").replace("-0.", "-.").removeprefix("+")


def ticks(low: float, high: float, pieces: int = 5) -> list[float]:
    """Round values between two."""
    if not high > low:
        return [low]
    step = nice_step(high - low, pieces)
    first = math.ceil(low / step - 1e-9)
    return [round(step * k, 9) for k in range(first, math.floor(high / step + 1e-9) + 1)]


@dataclass(frozen=True)
class Colours:
    """The classes of a quantity, as on every map and section of the site: dark is high."""

    quantity: str
    levels: tuple[float, ...]

    @property
    def shades(self) -> list[str]:
        """A colour for each class, from low to high."""
        return class_colours(self.quantity, "median", len(self.levels) + 1)

    def classes(self, unit: str) -> list[tuple[str, str]]:
        """Colour and words of each class [unit of the schema], from low to high."""
        ends = (-math.inf, *self.levels, math.inf)
        words = (class_words(low, high, unit) for low, high in pairwise(ends))
        return list(zip(self.shades, words, strict=True))

    def at(self, value: float | None) -> str:
        """The colour of a value; white where there is none."""
        return NONE_COLOUR if value is None else self.shades[bisect_right(self.levels, value)]

    def of_band(self, row: Mapping[str, Any]) -> str:
        """The colour of a band that a table holds."""
        number, count = row.get("class_number"), row.get("class_count")
        if number is None or count is None:  # a file of before classes were kept
            return self.shades[0] if row["lower"] is None else self.at(row["lower"])
        return class_colours(self.quantity, "median", int(count))[int(number)]


def colours_of(
    quantity: str, values: Iterable[float | None], limits: Iterable[float | None] = ()
) -> Colours:
    """The classes round some values and limits."""
    found, least = ([v for v in some if v is not None and v > 0] for some in (values, limits))
    return Colours(quantity, tuple(levels_of(quantity, found, least)))


def inner_edge(shape: Any, mapped: Any) -> Any:
    """The edge of an extent without what lies along the border of what is mapped, as lines."""
    return shapely.MultiLineString(edge_lines(shape, mapped))
