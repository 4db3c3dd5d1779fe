"""The derived tables of mass discharge through sections."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import NOTES, ROUND, RUN, SECTION
from geoprofile.schema.table import Column, Table

DISCHARGE = Table(
    "discharge",
    "Mass discharge",
    "Mass of a substance that passes a section per day, with its range",
    "derived",
    (
        SECTION,
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        Column("discharge_g_per_day", "real", "g/d", "Median mass discharge"),
        Column("discharge_low_g_per_day", "real", "g/d", "10 % quantile"),
        Column("discharge_high_g_per_day", "real", "g/d", "90 % quantile"),
        Column(
            "discharge_least_g_per_day",
            "real",
            "g/d",
            "The 10 % quantile divided by the most that a mean gradient was seen to overstate",
        ),
        Column(
            "discharge_most_g_per_day",
            "real",
            "g/d",
            "The 90 % quantile divided by the least that a mean gradient was seen to overstate",
        ),
        Column("planes", "integer", "1", "Parallel planes that were averaged"),
        Column(
            "assumed_share",
            "real",
            "1",
            "Share of the discharge through the drawn plane that passes where the shape of the "
            "plume is assumed, not held by data",
        ),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

DISCHARGE_CELL = Table(
    "discharge_cell",
    "Mass flux in sections",
    "Where the mass discharge passes a section, in cells of the section plane: x is distance along "
    "the line plus the section's start on the sheet, y is elevation",
    "derived",
    (
        SECTION,
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        Column("distance_m", "real", "m", "Middle of the cell, distance along the section"),
        Column("elevation_m", "real", "m", "Middle of the cell, elevation"),
        Column("area_m2", "real", "m2", "Area of the cell below the water level"),
        Column("flux_g_per_m2_per_day", "real", "g/m2/d", "Median mass flux per area"),
        Column("flux_low_g_per_m2_per_day", "real", "g/m2/d", "10 % quantile"),
        Column("flux_high_g_per_m2_per_day", "real", "g/m2/d", "90 % quantile"),
        Column("share", "real", "1", "Expected share of the section's mass discharge"),
        Column(
            "cumulative_share",
            "real",
            "1",
            "Expected share of the mass discharge between the start of the section and the end of "
            "this column of cells",
        ),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

TABLES: tuple[Table, ...] = (DISCHARGE, DISCHARGE_CELL)
LEGEND: Mapping[str, LegendPlace] = {
    "discharge": LegendPlace("Mass discharge", 10),
    "discharge_cell": LegendPlace("Mass discharge", 20),
}
