"""Legend of the section figure: what its lines and bars mean."""

from __future__ import annotations

from typing import Any

from geoprofile.figures import _look as look
from geoprofile.figures._bars import band_index
from geoprofile.figures._legend import Entry
from geoprofile.figures.section_numbers import Drawing
from geoprofile.maps.levels import SHOWN_UNITS, tidy
from geoprofile.maps.slices import Slice

BASE_LINE: dict[str, Any] = {"color": look.FAINT, "linewidth": 0.9, "linestyle": (0, (2, 2))}
EDGE_LINE: dict[str, Any] = {"color": look.EDGE, "linewidth": 1.6, "linestyle": "solid"}
RANGE_LINE: dict[str, Any] = {"color": look.EDGE, "linewidth": 0.9, "linestyle": (0, (1.2, 1.6))}
SUPPORT_LINE: dict[str, Any] = {"color": look.QUIET, "linewidth": 0.7, "linestyle": (0, (4, 3))}


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
    outline = {"edgecolor": look.EDGE, "linewidth": 0.8}
    fill = {"facecolor": colours[len(colours) // 2], **outline}
    entries = [Entry("bar", "measured interval,\ntrue length", fill)]
    if any(r["value"] is None for r in drawing.rows):
        open_bar = {"facecolor": look.PAPER, "hatch": "//////", **outline}
        entries.append(Entry("bar", "not detected\n(below the limit given)", open_bar))
    entries.append(Entry("line", "ground", {"color": look.GROUND, "linewidth": 1.8}))
    if drawing.section.water is not None:
        when = drawing.section.water_notes
        text = "water level" + (f"\n{when}" if when else "")
        entries.append(Entry("line", text, {"color": look.WATER, "linewidth": 1.1}))
    entries.append(Entry("line", "bottoms of the holes", BASE_LINE))
    return entries + (_field_entries(drawing, drawing.slice) if drawing.slice is not None else [])


def _field_entries(drawing: Drawing, cut: Slice) -> list[Entry]:
    """Criterion, its range, and the limit of support."""
    entries = []
    if cut.criterion is not None:
        level = f"{tidy(cut.criterion)} {SHOWN_UNITS.get(cut.unit, cut.unit)}"
        middle = f"criterion {level}:\nas likely above as below"
        entries.append(Entry("line", middle, EDGE_LINE))
        entries.append(Entry("line", "90 % (inner) and 10 %\n(outer) chance above it", RANGE_LINE))
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
    return f"colours fade where unsure;\nbeyond this line by more\nthan a factor of {factor:.2g}"
