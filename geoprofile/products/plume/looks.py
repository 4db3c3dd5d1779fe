"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.marks import INNER, OUTER
from geoprofile.drawing.styles.classes import Look, Words
from geoprofile.drawing.styles.colours import QUIET
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import BAND, WORK_BLUE, WordSymbols, edge_symbol, plume_edges
from geoprofile.drawing.symbols import STOP, WARN

CHANGES: WordSymbols = {
    "gained": ("gained", Symbol("fill", STOP, STOP, 0.3, opacity=0.85)),
    "lost": ("lost", Symbol("fill", WORK_BLUE, WORK_BLUE, 0.3, opacity=0.85)),
    "above in both": ("above in both", Symbol("fill", WARN, WARN, 0.3, opacity=0.5)),
    "below in both": ("below in both", Symbol("fill", outline=QUIET, width_mm=0.2)),
    "uncertain": ("uncertain", Symbol("fill", QUIET, QUIET, 0.2, hatch=True)),
}
CONFIDENCE: WordSymbols = {
    "outer": ("outer line: holds the whole plume", edge_symbol(OUTER)),
    "inner": (
        "inner line: lies wholly in the plume",
        edge_symbol(INNER),
    ),
}
LOOKS: Mapping[str, Look] = {
    "plume_extent": Look(
        Symbol("fill", outline=STOP),
        Words("probability", plume_edges("fill")),
        ("analyte", "round", "surface", "elevation_m"),
    ),
    "plume_line": Look(
        Symbol("fill", outline=STOP),
        Words("line", CONFIDENCE),
        ("analyte", "round"),
    ),
    "plume_change": Look(
        BAND,
        Words("change", CHANGES),
        ("analyte", "round_before", "round", "surface", "elevation_m"),
    ),
}
