"""The derived tables of vertical sections."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from geoprofile.plugins import LegendPlace
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


ON_SHEET = (
    SECTION_BAND,
    SECTION_INTERVAL,
    SECTION_HOLE,
    SECTION_PLUME,
    SECTION_ASSUMED,
    SECTION_SURFACE,
)

EXAGGERATED = tuple(_exaggerated(table) for table in ON_SHEET)

TABLES: tuple[Table, ...] = (SECTION_TRACE, *ON_SHEET, *EXAGGERATED, SECTION_WALL)
SHEET: Mapping[str, LegendPlace] = {
    "section_interval": LegendPlace("Sections", 10),
    "section_hole": LegendPlace("Sections", 20),
    "section_surface": LegendPlace("Sections", 30),
    "section_plume": LegendPlace("Sections", 40),
    "section_assumed": LegendPlace("Sections", 50),
    "section_band": LegendPlace("Sections", 60, below=90),
}
LEGEND: Mapping[str, LegendPlace] = {
    **SHEET,
    **{
        f"{name}_exaggerated": LegendPlace(
            "Sections, exaggerated", place.rank, place.below and place.below + 10
        )
        for name, place in SHEET.items()
    },
    "section_trace": LegendPlace("Mass discharge", 30),
    "section_wall": LegendPlace("Mass discharge", 40),
}
