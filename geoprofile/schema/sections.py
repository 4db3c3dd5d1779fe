"""The tables of the vertical sections and of what passes through them."""

from __future__ import annotations

from dataclasses import replace

from geoprofile.schema.columns import (
    CLASS,
    CRITERION,
    HOLE,
    INTERVAL,
    LABEL,
    LOWER,
    NOTES,
    PROBABILITY,
    PROJECTION,
    QUANTITY,
    ROUND,
    RUN,
    SECTION,
    STATISTIC,
    UNIT,
    UPPER,
)
from geoprofile.schema.table import Column, Table

SECTION_TRACE = Table(
    "section_trace",
    "Section traces",
    "Where each vertical section lies on the map",
    "derived",
    (
        SECTION,
        Column("length_m", "real", "m", "Length of the section"),
        Column("sheet_start_m", "real", "m", "Where the section begins on the section sheet"),
        Column("band_width_m", "real", "m", "Boreholes nearer than this are projected"),
        RUN,
    ),
    geometry="LineString",
)

SECTION_BAND = Table(
    "section_band",
    "Section bands",
    "Filled bands of a field in the section plane: x is distance along the line plus the section's "
    "start on the sheet, y is elevation",
    "derived",
    (
        SECTION,
        QUANTITY,
        ROUND,
        STATISTIC,
        LOWER,
        UPPER,
        UNIT,
        LABEL,
        *CLASS,
        Column(
            "certainty",
            "text",
            "",
            "Whether the field is well supported here",
            allowed=("supported", "uncertain"),
        ),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

SECTION_INTERVAL = Table(
    "section_interval",
    "Section intervals",
    "Intervals as bars of their true length along the projected hole, with their results",
    "derived",
    (
        SECTION,
        INTERVAL,
        HOLE,
        QUANTITY,
        ROUND,
        Column("value", "real", "", "Value, in the unit given; empty if not detected"),
        Column("low", "real", "", "Lower end of the 95 % interval, in the unit given"),
        Column("high", "real", "", "Upper end of the 95 % interval, in the unit given"),
        Column("detected", "boolean", "", "Whether the substance was detected"),
        Column("limit", "real", "", "Limit of a non-detect, in the unit given"),
        UNIT,
        LABEL,
        PROJECTION,
        RUN,
    ),
    geometry="LineString",
    plane="section",
)

SECTION_HOLE = Table(
    "section_hole",
    "Section boreholes",
    "Boreholes projected onto the section plane",
    "derived",
    (SECTION, HOLE, PROJECTION, RUN),
    geometry="LineString",
    plane="section",
)

SECTION_PLUME = Table(
    "section_plume",
    "Section plume edges",
    "Where the section plane lies inside the plume extent with a given probability",
    "derived",
    (
        SECTION,
        Column("analyte", "text", "", "Substance", required=True),
        ROUND,
        CRITERION,
        PROBABILITY,
        Column("area_m2", "real", "m2", "Area in the section plane"),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

SECTION_ASSUMED = Table(
    "section_assumed",
    "Section ground of assumed shape",
    "Where in the section plane the data do not hold the shape of a field: what is shown there is "
    "assumed",
    "derived",
    (
        SECTION,
        QUANTITY,
        ROUND,
        Column("area_m2", "real", "m2", "Area in the section plane"),
        RUN,
    ),
    geometry="MultiPolygon",
    plane="section",
)

SECTION_SURFACE = Table(
    "section_surface",
    "Section surfaces",
    "Ground, water level and tops of hydrostratigraphic units along the section",
    "derived",
    (
        SECTION,
        Column(
            "surface", "text", "", "Which surface", allowed=("ground", "water level", "top of unit")
        ),
        Column("hydro_unit", "text", "", "Unit below, where the surface is the top of one"),
        NOTES,
        RUN,
    ),
    geometry="LineString",
    plane="section",
)

SECTION_WALL = Table(
    "section_wall",
    "Section walls in 3D",
    "Bands of the median in the section plane, standing upright at their place on the map; seen "
    "from above they are lines, and tools that check shapes in two dimensions call them invalid",
    "derived",
    SECTION_BAND.columns,
    geometry="MultiPolygonZ",
)


def _exaggerated(table: Table) -> Table:
    """The twin of a table of the section sheet, stretched upwards."""
    factor = Column("exaggeration", "real", "1", "Vertical exaggeration")
    return replace(
        table,
        name=f"{table.name}_exaggerated",
        title=f"{table.title}, vertically exaggerated",
        description=f"{table.description}. Here y is elevation times the column exaggeration",
        columns=(*table.columns[:-1], factor, RUN),
    )


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

ON_SHEET = (
    SECTION_BAND,
    SECTION_INTERVAL,
    SECTION_HOLE,
    SECTION_PLUME,
    SECTION_ASSUMED,
    SECTION_SURFACE,
)
EXAGGERATED = tuple(_exaggerated(table) for table in ON_SHEET)
SECTIONS = (SECTION_TRACE, *ON_SHEET, *EXAGGERATED, SECTION_WALL, DISCHARGE, DISCHARGE_CELL)
