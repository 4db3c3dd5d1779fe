"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.marks import FLOW, HEAD_CONTOUR
from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import WORK_BLUE, line_symbol

LOOKS: Mapping[str, Look] = {
    "head": Look(
        Symbol("marker", WORK_BLUE, INK, 0.2, 2.4, "triangle"), None, (), "head_m", "below", 2
    ),
    "flow": Look(line_symbol(FLOW, arrow=True)),
    "head_contour": Look(line_symbol(HEAD_CONTOUR), label="label", label_at="middle"),
}
