"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Bands, Look, Words
from geoprofile.drawing.styles.shared import ASSUMED, BAND, BLANK, blanks
from geoprofile.products.maps.tables import BLANK_REASONS

LOOKS: Mapping[str, Look] = {
    "map_band": Look(
        BAND,
        Bands(),
        ("quantity", "round", "statistic", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "map_blank": Look(
        BLANK,
        Words("reason", blanks(BLANK_REASONS)),
        ("quantity", "round", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "map_assumed": Look(
        ASSUMED,
        None,
        ("quantity", "round", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "transmissivity_band": Look(BAND, Bands(), ("quantity", "statistic", "surface", "hydro_unit")),
}
