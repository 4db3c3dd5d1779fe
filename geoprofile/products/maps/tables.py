"""The derived tables of maps: bands, blanks, and where the shape is assumed."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import (
    BLANK_LIMIT,
    CLASS,
    LABEL,
    LOWER,
    NOTES,
    QUANTITY,
    ROUND,
    RUN,
    STATISTIC,
    UNIT,
    UPPER,
)
from geoprofile.schema.table import Column, Table

BLANK_REASONS = (
    "above ground",
    "above the water level",
    "unit absent or thin",
    "below the boreholes",
    "far from data",
    "uncertain",
)

MAP_PLACE = (
    Column(
        "surface",
        "text",
        "",
        "What the map lies on: one elevation, one depth below ground, or half the height of a "
        "unit (for concentrations, of its part below the water level)",
        allowed=("elevation", "depth", "unit"),
    ),
    Column("elevation_m", "real", "m", "Elevation of the map, up from the vertical datum"),
    Column("depth_m", "real", "m", "Depth of the map below ground"),
    Column("hydro_unit", "text", "", "Hydrostratigraphic unit of the map"),
)

MAP_BAND = Table(
    "map_band",
    "Map bands",
    "Filled bands between two values, per quantity, statistic and place of the map",
    "derived",
    (QUANTITY, ROUND, STATISTIC, *MAP_PLACE, LOWER, UPPER, UNIT, LABEL, *CLASS, RUN),
    geometry="MultiPolygon",
)

MAP_BLANK = Table(
    "map_blank",
    "Map blanks",
    "Where a map shows nothing, and why; bands and blanks together cover the area of the map",
    "derived",
    (
        QUANTITY,
        ROUND,
        *MAP_PLACE,
        Column(
            "reason",
            "text",
            "",
            "Why nothing is shown; where several reasons hold, the first in this order",
            allowed=BLANK_REASONS,
            required=True,
        ),
        *BLANK_LIMIT,
        RUN,
    ),
    geometry="MultiPolygon",
)

MAP_ASSUMED = Table(
    "map_assumed",
    "Map ground of assumed shape",
    "Where the data do not hold the shape of a field: shapes that all honour the data differ by "
    "more than what is left about each of them. What a map shows there is assumed",
    "derived",
    (QUANTITY, ROUND, *MAP_PLACE, Column("area_m2", "real", "m2", "Area of that ground"), RUN),
    geometry="MultiPolygon",
)

TRANSMISSIVITY_BAND = Table(
    "transmissivity_band",
    "Transmissivity bands",
    "Filled bands of transmissivity: K added up from the water level to the bottoms of the "
    "boreholes, or over the saturated part of a unit",
    "derived",
    (
        QUANTITY,
        STATISTIC,
        Column(
            "surface",
            "text",
            "",
            "What is added up: the whole saturated thickness, or a unit",
            allowed=("whole thickness", "unit"),
        ),
        Column("hydro_unit", "text", "", "Hydrostratigraphic unit of the map"),
        LOWER,
        UPPER,
        UNIT,
        LABEL,
        *CLASS,
        NOTES,
        RUN,
    ),
    geometry="MultiPolygon",
)

TABLES: tuple[Table, ...] = (MAP_BAND, MAP_BLANK, MAP_ASSUMED, TRANSMISSIVITY_BAND)
LEGEND: Mapping[str, LegendPlace] = {
    "map_assumed": LegendPlace("Maps", 30),
    "map_blank": LegendPlace("Maps", 40, below=40, by_theme=True),
    "map_band": LegendPlace("Maps", 50, below=50, by_theme=True),
    "transmissivity_band": LegendPlace("Maps", 70, below=60),
}
