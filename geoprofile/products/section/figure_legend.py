"""Legend of the section figure: what its lines and bars mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import Any

import shapely
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from geoprofile.drawing import marks, theme
from geoprofile.drawing.bars import band_index
from geoprofile.drawing.legend import Entry
from geoprofile.drawing.levels import SHOWN_UNITS, tidy
from geoprofile.drawing.symbols import (
    PROBABILITY_LINES,
    PROPOSED,
    exceedance_words,
    logged_looks,
)
from geoprofile.products.section.figure_numbers import Drawing
from geoprofile.products.section.logs import Piece
from geoprofile.products.section.slices import Slice

BASE_LINE: dict[str, Any] = {"color": theme.FAINT, "linewidth": 0.9, "linestyle": (0, (2, 2))}
EDGE_LINES: Mapping[float, dict[str, Any]] = {
    p: {"color": line.colour, "linewidth": line.points, "linestyle": line.on_off}
    for p, line in PROBABILITY_LINES.items()
}
CONTACT_LINE: dict[str, Any] = marks.TOP_OF_UNIT.figure
GROUND_LOOK, WATER_LOOK = marks.GROUND.figure, marks.WATER_LEVEL.figure
CASING: dict[str, Any] = {"color": theme.INK, "linewidth": 2.6, "solid_capstyle": "butt"}
SCREEN: dict[str, Any] = {"color": theme.INK, "linewidth": 2.6, "linestyle": (0, (0.6, 0.6))}
BUILT_LINES: Mapping[str, dict[str, Any]] = {"casing": CASING, "riser": CASING, "screen": SCREEN}
NEXT_TEST: dict[str, Any] = {
    "marker": "D",
    "markersize": 5,
    "markerfacecolor": PROPOSED,
    "markeredgecolor": theme.INK,
    "linestyle": "none",
}
NEXT_HOLE: dict[str, Any] = {"color": theme.INK, "linewidth": 1.2, "linestyle": (0, (5, 2))}
LEGEND_WIDTH = 28  # letters
COVERED_M = 0.1  # [m] of a screen beside a bar that nobody sees
UNITS_HEAD = "Logged left of each hole:"
UNITS_LEFT, UNITS_RIGHT = 0.05, 0.78  # of the sheet
UNIT_BOX, UNIT_ROW = 0.02, 0.024  # of the sheet
SUPPORT_LINE: dict[str, Any] = {"color": theme.QUIET, "linewidth": 0.7, "linestyle": (0, (4, 3))}


def occurring(drawing: Drawing) -> set[int]:
    """Bands that the field or a value reaches."""
    values = [r["value"] for r in drawing.rows if r["value"] is not None]
    if drawing.slice is not None:
        values += [float(drawing.slice.median.min()), float(drawing.slice.median.max())]
    if not values:
        return set()
    numbers = [band_index(v, drawing.bandwidth.levels) for v in values]
    return set(range(min(numbers), max(numbers) + 1))


def entries_of(drawing: Drawing, colours: list[str]) -> list[Entry]:
    """What lines and bars mean, only for those that are there."""
    outline = {"edgecolor": theme.EDGE, "linewidth": 0.8}
    filled = {"facecolor": colours[len(colours) // 2], **outline}
    entries = []
    if any(r["value"] is not None for r in drawing.rows):
        entries.append(Entry("bar", "measured interval,\ntrue length", filled))
    if any(r["value"] is None for r in drawing.rows):
        open_bar = {"facecolor": theme.PAPER, "hatch": "//////", **outline}
        entries.append(Entry("bar", "not detected:\nbelow the limit given", open_bar))
    entries.append(Entry("line", "ground", GROUND_LOOK))
    if drawing.section.water is not None:
        when = drawing.section.water_notes
        text = "water level" + (f"\n{when}" if when else "")
        entries.append(Entry("line", text, WATER_LOOK))
    entries.append(Entry("line", "bottoms of the holes", BASE_LINE))
    entries += _drilled_entries(drawing)
    return entries + (_field_entries(drawing, drawing.slice) if drawing.slice is not None else [])


def _drilled_entries(drawing: Drawing) -> list[Entry]:
    """Construction, unit boundaries and proposals, where there are any."""
    built = {p.name for p in drawing.pieces if p.table == "construction" and _shows(drawing, p)}
    entries = []
    if built & {"casing", "riser"}:
        entries.append(Entry("line", "casing or riser", CASING))
    if "screen" in built:
        entries.append(Entry("line", "screen", SCREEN))
    if drawing.contacts:
        entries.append(Entry("line", "top of a unit", CONTACT_LINE))
    proposed = {p.table for p in drawing.proposals}
    if "next_test" in proposed:
        entries.append(Entry("marker", "T: proposed test (best five)", NEXT_TEST))
    if "next_borehole" in proposed:
        entries.append(Entry("line", "D: proposed borehole (best three)", NEXT_HOLE))
    return entries


def _shows(drawing: Drawing, piece: Piece) -> bool:
    """Whether a casing or screen reaches beyond the bars that are drawn over it."""
    valued = {row["interval"] for row in drawing.rows}
    bars = [
        shapely.LineString(one.line)
        for one in drawing.section.intervals
        if one.interval in valued and one.borehole == piece.borehole
    ]
    covered = shapely.union_all(bars).buffer(COVERED_M)
    return bool(shapely.LineString(piece.line).difference(covered).length > COVERED_M)


def unit_styles(names: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Fill and hatch of every logged unit of the site."""
    return {
        name: {"facecolor": look.colour, "hatch": look.hatch, "edgecolor": theme.QUIET}
        for name, look in logged_looks(names).items()
    }


def draw_units(figure: Figure, drawing: Drawing, *, above: float) -> None:
    """Rows of the logged units below the drawing.

    Parameters
    ----------
    figure : Figure
        The sheet.
    drawing : Drawing
        Gives the units.
    above : float
        Where the notes below end [share of the sheet].
    """
    shown = {p.name for p in drawing.pieces if p.table == "lithology"}
    styles = {n: s for n, s in unit_styles(drawing.logged).items() if n in shown}
    if not styles:
        return
    texts = [figure.text(0, 0, n, size=6.8, va="center") for n in (UNITS_HEAD, *styles)]
    wide = [text.get_window_extent().width / figure.bbox.width for text in texts]
    rows: list[list[int]] = [[]]
    x = UNITS_LEFT
    for k, width in enumerate(wide):
        if rows[-1] and x + width + UNIT_BOX > UNITS_RIGHT:
            rows.append([])
            x = UNITS_LEFT
        rows[-1].append(k)
        x += width + UNIT_BOX + 0.02
    faces: list[dict[str, Any] | None] = [None, *styles.values()]
    for up, row in enumerate(reversed(rows)):
        x, y = UNITS_LEFT, above + 0.012 + UNIT_ROW * up
        for k in row:
            style = faces[k]
            if style is not None:
                box = Rectangle((x, y), 0.016, 0.016, linewidth=0.5, **style)
                box.set_transform(figure.transFigure)
                figure.add_artist(box)
                x += UNIT_BOX
            texts[k].set_position((x, y + 0.007))
            x += wide[k] + 0.02


def _field_entries(drawing: Drawing, cut: Slice) -> list[Entry]:
    """Criterion, its range, and the limit of support."""
    entries = []
    if cut.criterion is not None and cut.probability is not None:
        low, high = float(cut.probability.min()), float(cut.probability.max())
        level = f"{tidy(cut.criterion)} {SHOWN_UNITS.get(cut.unit, cut.unit)}"
        entries += [
            Entry("line", fill(exceedance_words(p, level), LEGEND_WIDTH), EDGE_LINES[p])
            for p in EDGE_LINES
            if low < p <= high
        ]
    if not cut.of_assumed_shape().is_empty:
        entries.append(Entry("box", theme.ASSUMED_WORDS, theme.ASSUMED))
    text = support_words(drawing.uncertain_sd)
    return [*entries, Entry("line", text, SUPPORT_LINE)]


def support_words(uncertain_sd: float) -> str:
    """What the limit of support means.

    Parameters
    ----------
    uncertain_sd : float [-]
        Standard deviation of log10 on that line.

    Returns
    -------
    str
        For the legend.
    """
    factor = 10**uncertain_sd
    return f"colours fade with uncertainty;\nbeyond this line it exceeds\na factor of {factor:.2g}"
