"""Legend of the section figure: one box per band, and what the lines mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from geoprofile.figures import _look as look
from geoprofile.levels import SHOWN_UNITS, band_label, tidy

if TYPE_CHECKING:
    from geoprofile.figures.section import Drawing

LEFT, TOP = 0.795, 0.83  # of the sheet
ROW = 0.026


def section_legend(figure: Figure, drawing: Drawing, colours: list[str]) -> None:
    """Draw the legend at the right of the sheet.

    Parameters
    ----------
    figure : Figure
        The sheet.
    drawing : Drawing
        Gives bands and what is shown.
    colours : list of str
        One per band.
    """
    axes = figure.add_axes((LEFT, 0.0, 1 - LEFT, TOP + 0.03))
    axes.set_xlim(0, 1)
    axes.set_ylim(0, TOP + 0.03)
    axes.axis("off")
    y = TOP
    unit = SHOWN_UNITS.get(drawing.unit, drawing.unit)
    heading = "K" if drawing.quantity == "K" else drawing.quantity
    axes.text(0, y, f"{heading} [{unit}]", weight="bold", va="center")
    y = band_boxes(axes, drawing.bandwidth, colours, y=y - ROW, shown=_occurring(drawing))
    y -= 0.4 * ROW
    for entry in _entries(drawing):
        _line(axes, y, entry, colours[len(colours) // 2])
        y -= ROW * (1 + 0.75 * entry["text"].count("\n"))


def band_boxes(
    axes: Any, bandwidth: Any, colours: list[str], *, y: float, shown: set[int]
) -> float:
    """Boxes of the bands that occur, highest first; returns where to go on.

    Parameters
    ----------
    axes : Axes
        Of the legend, x from 0 to 1.
    bandwidth : Bandwidth
        Levels [unit of the statistic].
    colours : list of str
        One per band.
    y : float [-]
        Where to begin.
    shown : set of int
        Numbers of the bands.

    Returns
    -------
    float [-]
        Below the last box.
    """
    edges = [-np.inf, *bandwidth.levels, np.inf]
    for k in sorted(shown, reverse=True):
        box = Rectangle(
            (0, y - 0.4 * ROW),
            0.16,
            0.8 * ROW,
            facecolor=colours[k],
            edgecolor=look.QUIET,
            linewidth=0.5,
        )
        axes.add_patch(box)
        label = band_label(edges[k], edges[k + 1], bandwidth.unit)
        axes.text(0.2, y, label, va="center", size=7.5)
        y -= ROW
    return y


def _occurring(drawing: Drawing) -> set[int]:
    """Bands that the field or a value reaches."""
    values = [r["value"] for r in drawing.rows if r["value"] is not None]
    if drawing.slice is not None:
        values += [float(drawing.slice.median.min()), float(drawing.slice.median.max())]
    if not values:
        return set()
    levels = np.array(drawing.bandwidth.levels)
    numbers = np.searchsorted(levels, values, side="left")
    return set(range(int(numbers.min()), int(numbers.max()) + 1))


def _entries(drawing: Drawing) -> list[dict[str, Any]]:
    """What the lines and bars mean, only for those that are there."""
    entries: list[dict[str, Any]] = [{"kind": "bar", "text": "measured interval,\ntrue length"}]
    if any(r["value"] is None for r in drawing.rows):
        entries.append({"kind": "open", "text": "not detected\n(below the limit given)"})
    entries.append({"kind": "line", "color": look.GROUND, "linewidth": 1.8, "text": "ground"})
    if drawing.section.water is not None:
        when = drawing.section.water_notes
        text = "water level" + (f"\n{when}" if when else "")
        entries.append({"kind": "line", "color": look.WATER, "linewidth": 1.1, "text": text})
    base = {"color": look.FAINT, "linewidth": 0.9, "linestyle": (0, (2, 2))}
    entries.append({"kind": "line", **base, "text": "bottoms of the holes"})
    if drawing.slice is not None:
        entries += _field_entries(drawing)
    return entries


def _field_entries(drawing: Drawing) -> list[dict[str, Any]]:
    """Criterion, its range, and the limit of support."""
    entries: list[dict[str, Any]] = []
    cut = drawing.slice
    if cut is not None and cut.criterion is not None:
        level = f"{tidy(cut.criterion)} {SHOWN_UNITS.get(cut.unit, cut.unit)}"
        edge = {"kind": "line", "color": look.EDGE}
        entries.append(
            {**edge, "linewidth": 1.6, "text": f"criterion {level}:\nas likely above as below"}
        )
        dots = {"linewidth": 0.9, "linestyle": (0, (1.2, 1.6))}
        entries.append({**edge, **dots, "text": "90 % (inner) and 10 %\n(outer) chance above it"})
    dash = {"color": look.QUIET, "linewidth": 0.7, "linestyle": (0, (4, 3))}
    entries.append(
        {
            "kind": "line",
            **dash,
            "text": "colours fade where unsure;\nbeyond this line by more\nthan a factor of 3",
        }
    )
    return entries


def _line(axes: Any, y: float, entry: dict[str, Any], fill: str) -> None:
    """One entry with its sample."""
    kind, text = entry["kind"], entry["text"]
    if kind == "line":
        style = {k: v for k, v in entry.items() if k not in ("kind", "text")}
        axes.plot([0, 0.16], [y, y], **style)
    else:
        hatch = "//////" if kind == "open" else None
        face = look.PAPER if kind == "open" else fill
        axes.add_patch(
            Rectangle(
                (0.06, y - 0.45 * ROW),
                0.035,
                0.9 * ROW,
                facecolor=face,
                edgecolor=look.EDGE,
                linewidth=0.8,
                hatch=hatch,
            )
        )
    axes.text(0.2, y + 0.3 * ROW, text, va="top", size=7.2, linespacing=1.2)
