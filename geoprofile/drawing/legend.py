"""Legend at the right of a sheet: one box per band, and what lines, bars and markers mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from geoprofile.drawing import theme
from geoprofile.drawing.levels import Bandwidth, band_label

LEFT, TOP = 0.795, 0.86  # of the sheet
ROW = 0.026
FOOT = 0.15  # of the sheet, where the notes and the caution begin


@dataclass(frozen=True)
class Entry:
    """One line of the legend: `kind` is line, bar, box or marker; `style` draws its sample."""

    kind: str
    text: str
    style: dict[str, Any] = field(default_factory=dict)


def legend(
    figure: Figure,
    heading: str,
    entries: Sequence[Entry],
    *,
    bandwidth: Bandwidth | None,
    colours: list[str],
    shown: set[int],
) -> None:
    """Draw the legend.

    Parameters
    ----------
    figure : Figure
        The sheet.
    heading : str
        Above the bands.
    entries : sequence of Entry
        Below the bands, in this order.
    bandwidth : Bandwidth or None
        Bands [its unit].
    colours : list of str
        One per band.
    shown : set of int
        Numbers of the bands that occur.
    """
    axes = figure.add_axes((LEFT, 0.0, 1 - LEFT, TOP + 0.03))
    axes.set_xlim(0, 1)
    axes.set_ylim(0, TOP + 0.03)
    axes.axis("off")
    y = TOP
    row = ROW * min(1.0, (TOP - FOOT) / height_of(heading, entries, bandwidth, shown))
    if bandwidth is not None:
        axes.text(0, y, heading, weight="bold", va="top", linespacing=1.25)
        y -= row * (1 + 0.75 * heading.count("\n"))
        y = _boxes(axes, bandwidth, colours, y=y - 0.5 * row, shown=shown, row=row)
        y -= 0.4 * row
    for entry in entries:
        _sample(axes, y, entry, row)
        y -= row * (1 + 0.75 * entry.text.count("\n"))


def height_of(
    heading: str, entries: Sequence[Entry], bandwidth: Bandwidth | None, shown: set[int]
) -> float:
    """The height of a legend whose rows are not shrunk [share of the sheet]."""
    rows = 0.0 if bandwidth is None else 1.9 + 0.75 * heading.count("\n") + len(shown)
    return ROW * (rows + sum(1 + 0.75 * e.text.count("\n") for e in entries))


def _boxes(
    axes: Axes,
    bandwidth: Bandwidth,
    colours: list[str],
    *,
    y: float,
    shown: set[int],
    row: float,
) -> float:
    """Boxes of the bands that occur, highest first; returns where to go on."""
    edges = [-np.inf, *bandwidth.levels, np.inf]
    for k in sorted(shown, reverse=True):
        axes.add_patch(
            Rectangle(
                (0, y - 0.4 * row),
                0.16,
                0.8 * row,
                facecolor=colours[k],
                edgecolor=theme.QUIET,
                linewidth=0.5,
            )
        )
        label = band_label(edges[k], edges[k + 1], bandwidth.unit)
        axes.text(0.2, y, label, va="center", size=7.5 * row / ROW)
        y -= row
    return y


def _sample(axes: Axes, y: float, entry: Entry, row: float) -> None:
    """One entry with its sample."""
    if entry.kind == "line":
        axes.plot([0, 0.16], [y, y], **entry.style)
    elif entry.kind == "marker":
        base = {"markersize": 6, "markeredgecolor": theme.INK, "linestyle": "none"}
        axes.plot([0.08], [y], **{**base, **entry.style})
    else:
        wide = entry.kind == "box"
        corner, width = (0.0, 0.16) if wide else (0.06, 0.035)
        axes.add_patch(Rectangle((corner, y - 0.42 * row), width, 0.84 * row, **entry.style))
    axes.text(0.2, y + 0.3 * row, entry.text, va="top", size=7.2 * row / ROW, linespacing=1.2)
