"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look, Values
from geoprofile.drawing.styles.shared import RING

LOOKS: Mapping[str, Look] = {
    "concentration": Look(
        RING,
        Values("value_ug_per_l", "", "not detected", "ug/L", "limit_ug_per_l"),
        ("round", "analyte", "medium"),
    ),
}
