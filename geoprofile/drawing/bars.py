"""Interval bars of true length along a hole, and labels that do not collide."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from geoprofile.drawing.levels import Bandwidth
from geoprofile.drawing.theme import EDGE, HALO, INK, PAPER

Array: TypeAlias = NDArray[np.float64]
LINE_STEP_PX = 6.0  # between the places of a line that text keeps clear of


def bar_outline(line: Array, width: float, exaggeration: float) -> Array:
    """Outline (2k, 2) of a bar round a line (k, 2); `width` as drawn, in units of the x axis."""
    drawn = line * [1.0, exaggeration]
    step = np.gradient(drawn, axis=0) if len(drawn) > 2 else np.repeat(np.diff(drawn, axis=0), 2, 0)
    size = np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12)
    aside = width / 2 * np.column_stack([-step[:, 1], step[:, 0]]) / size
    return np.asarray(np.vstack([drawn + aside, (drawn - aside)[::-1]]) / [1.0, exaggeration])


def band_index(value: float, levels: tuple[float, ...]) -> int:
    """Number of the band that holds a value, its lower end included; 0 lies below the first level.

    As in the classes of the layers: a value on a level has the colour of the band above.
    """
    return int(np.searchsorted(np.array(levels), value, side="right"))


def draw_bar(
    axes: Axes,
    line: Array,
    row: dict[str, Any],
    *,
    bandwidth: Bandwidth,
    colours: list[str],
    width: float,
    exaggeration: float,
) -> None:
    """One bar: filled by its value, open and hatched where nothing was detected."""
    outline = bar_outline(line, width, exaggeration)
    if row["value"] is None:
        look = {"facecolor": PAPER, "hatch": "//////", "edgecolor": INK, "linewidth": 0.7}
    else:
        colour = colours[band_index(row["value"], bandwidth.levels)]
        look = {"facecolor": colour, "edgecolor": EDGE, "linewidth": 0.8}
    axes.add_patch(Polygon(outline, closed=True, zorder=6, **look))


class Placer:
    """Keeps the boxes that are taken, in pixels of the figure, and finds free places for text."""

    def __init__(self, axes: Axes) -> None:
        """Start with nothing taken."""
        self.axes = axes
        canvas: Any = axes.figure.canvas
        self.renderer = canvas.get_renderer()
        self.left_out = 0
        self.room = axes.figure.bbox.extents
        self._taken: list[tuple[float, ...]] = []

    def keep_off(self, share: float) -> None:
        """Keep text left of this share of the sheet: beyond it stands the legend."""
        west, south, east, north = self.axes.figure.bbox.extents
        self.room = (west, south, west + share * (east - west), north)

    def take(self, box: Any) -> None:
        """Keep a box [pixels] free of text."""
        self._taken.append(tuple(box.extents))

    def block(self, outline: Array) -> None:
        """Take the box round points in data coordinates."""
        from matplotlib.transforms import Bbox

        pixels = self.axes.transData.transform(outline)
        self.take(Bbox([pixels.min(axis=0), pixels.max(axis=0)]))

    def keep_clear_of(self, line: Array) -> None:
        """Keep text off a line [data coordinates]."""
        pixels = self.axes.transData.transform(line)
        for one, two in pairwise(pixels):
            count = max(2, int(np.hypot(*(two - one)) / LINE_STEP_PX))
            for share in np.linspace(0, 1, count):
                x, y = one + share * (two - one)
                self._taken.append((x - 1.0, y - 1.0, x + 1.0, y + 1.0))

    def put(self, text: str, places: list[tuple[float, float, str, str]], **look: Any) -> bool:
        """Write a text at the first free place (x, y, horizontal, vertical alignment)."""
        for x, y, across, up in places:
            label = self.axes.text(
                x, y, text, ha=across, va=up, zorder=9, path_effects=HALO, **look
            )
            box = label.get_window_extent(self.renderer).padded(1.0)
            if self._free(*box.extents):
                self.take(box)
                return True
            label.remove()
        self.left_out += 1
        return False

    def _free(self, left: float, low: float, right: float, high: float) -> bool:
        """Whether it is on the sheet and touches no box; plain numbers, as there are thousands."""
        west, south, east, north = self.room
        if left < west or right > east or low < south or high > north:
            return False
        return not any(
            left <= r and right >= x and low <= h and high >= y for x, y, r, h in self._taken
        )
