"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Symbol

LOOKS: Mapping[str, Look] = {
    "borehole_path": Look(Symbol("line", INK, width_mm=0.4)),
}
