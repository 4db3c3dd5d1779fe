"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look, Values
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import BAND
from geoprofile.drawing.symbols import STOP

LOOKS: Mapping[str, Look] = {
    "discharge": Look(Symbol("line", STOP, width_mm=1.2), label="analyte"),
    "discharge_cell": Look(
        BAND,
        Values("flux_g_per_m2_per_day", "flux", "", "g/m2/d"),
        ("analyte", "round"),
    ),
}
