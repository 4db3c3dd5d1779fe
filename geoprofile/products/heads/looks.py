"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import WORK_BLUE

LOOKS: Mapping[str, Look] = {
    "head": Look(
        Symbol("marker", WORK_BLUE, INK, 0.2, 2.4, "triangle"), None, (), "head_m", "below", 2
    ),
    "flow": Look(Symbol("line", WORK_BLUE, width_mm=0.9, arrow=True)),
    "head_contour": Look(Symbol("line", WORK_BLUE, width_mm=0.3), label="label", label_at="middle"),
}
