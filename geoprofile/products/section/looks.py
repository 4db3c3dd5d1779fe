"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.marks import GROUND, SECTION, TOP_OF_UNIT, WATER_LEVEL
from geoprofile.drawing.styles.classes import Bands, Look, Values, Words
from geoprofile.drawing.styles.colours import INK, QUIET
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import ASSUMED, BAND, WordSymbols, line_symbol, plume_edges
from geoprofile.drawing.symbols import STOP

BAR = Symbol("line", outline=INK, width_mm=2.2)
WALL = Symbol("fill", outline=QUIET, width_mm=0.3, opacity=0.85)  # its edge shows it on the map
SURFACES: WordSymbols = {
    "ground": ("ground", line_symbol(GROUND)),
    "water level": ("water level", line_symbol(WATER_LEVEL)),
    "top of unit": ("top of unit", line_symbol(TOP_OF_UNIT)),
}
ON_SHEET: Mapping[str, Look] = {
    "section_band": Look(BAND, Bands(), ("quantity", "round", "statistic")),
    "section_interval": Look(
        BAR,
        Values("value", hollow_title="not detected", limit="limit"),
        ("quantity", "round"),
        "label",
        "middle",
    ),
    "section_hole": Look(Symbol("line", QUIET, width_mm=0.5), None, (), "borehole", "top"),
    "section_plume": Look(
        Symbol("fill", outline=STOP),
        Words("probability", plume_edges("fill")),
        ("analyte", "round"),
    ),
    "section_assumed": Look(ASSUMED, None, ("quantity", "round")),
    "section_surface": Look(
        Symbol("line", INK), Words("surface", SURFACES), label="hydro_unit", label_at="middle"
    ),
}
LOOKS: Mapping[str, Look] = {
    "section_trace": Look(line_symbol(SECTION)),
    "section_wall": Look(WALL, Bands(), ("quantity", "round")),
    **ON_SHEET,
    **{f"{table}_exaggerated": look for table, look in ON_SHEET.items()},
}
