"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look
from geoprofile.drawing.styles.colours import INK, QUIET
from geoprofile.drawing.styles.model import Symbol

LOOKS: Mapping[str, Look] = {
    "hydro_unit": Look(
        Symbol("line", QUIET, INK, 0.2, 2.4, depth_rings=True), None, (), "hydro_unit", "top"
    ),
}
