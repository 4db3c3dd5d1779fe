"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Bands, Look, Values, Words
from geoprofile.drawing.styles.shared import BAND, BLANK, RING, blanks
from geoprofile.products.soil_gas.tables import GAS_BLANK_REASONS

LOOKS: Mapping[str, Look] = {
    "soil_gas": Look(
        RING,
        Values("value_ug_per_m3", "", "not detected", "ug/m3", "limit_ug_per_m3"),
        ("round", "analyte"),
    ),
    "soil_gas_band": Look(BAND, Bands(), ("quantity", "round", "statistic", "depth_m")),
    "soil_gas_blank": Look(
        BLANK,
        Words("reason", blanks(GAS_BLANK_REASONS)),
        ("quantity", "round", "depth_m"),
    ),
}
