"""The derived table of hydrostratigraphic units."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import BOTTOM, HOLE, NOTES, RUN, TOP
from geoprofile.schema.table import Column, Table

HYDRO_UNIT = Table(
    "hydro_unit",
    "Hydrostratigraphic units",
    "Where each borehole meets the units that maps and fields keep apart",
    "derived",
    (
        HOLE,
        Column("hydro_unit", "text", "", "Hydrostratigraphic unit", required=True),
        Column("unit_number", "integer", "1", "Order of the units, 1 is the uppermost"),
        TOP,
        BOTTOM,
        Column("top_elevation_m", "real", "m", "Elevation of the top, up from the vertical datum"),
        Column("bottom_elevation_m", "real", "m", "Elevation of the bottom met in the hole"),
        Column("base_met", "boolean", "", "False where the log ends inside the unit"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

TABLES: tuple[Table, ...] = (HYDRO_UNIT,)
LEGEND: Mapping[str, LegendPlace] = {
    "hydro_unit": LegendPlace("Boreholes", 20),
}
