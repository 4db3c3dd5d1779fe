"""The derived tables of maps: bands, blanks and plumes."""

from __future__ import annotations

from geoprofile.schema.columns import (
    BLANK_LIMIT,
    CLASS,
    CRITERION,
    LABEL,
    LOWER,
    NOTES,
    PROBABILITY,
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
CHANGES = ("gained", "lost", "above in both", "below in both", "uncertain")
ANALYTE = Column("analyte", "text", "", "Substance", required=True)
PLACE = Column(
    "surface",
    "text",
    "",
    "At one elevation, or at any depth: there the chance is that of exceeding somewhere between "
    "the water level and the bottoms of the holes, or, with any_depth = highest, that of the "
    "likeliest layer, which is a lower bound",
    allowed=("elevation", "any depth"),
)
ELEVATION = Column("elevation_m", "real", "m", "Elevation; empty for any depth")

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

PLUME_EXTENT = Table(
    "plume_extent",
    "Plume extent",
    "Where the criterion is exceeded with a given probability; says what is likely, judges no risk",
    "derived",
    (
        ANALYTE,
        ROUND,
        CRITERION,
        PROBABILITY,
        PLACE,
        ELEVATION,
        Column("area_m2", "real", "m2", "Area of the extent"),
        Column(
            "distance_to_site_boundary_m",
            "real",
            "m",
            "Shortest way from this edge down the flow to the border of the site area; 0 at the "
            "border, negative by how far beyond it the chance is expected to stay above that of "
            "the edge; empty without a site area or a direction of flow",
        ),
        Column("volume_m3", "real", "m3", "Expected volume above the criterion, any depth"),
        Column("volume_low_m3", "real", "m3", "10 % quantile of the volume"),
        Column("volume_high_m3", "real", "m3", "90 % quantile of the volume"),
        Column(
            "volume_assumed_m3",
            "real",
            "m3",
            "Part of the expected volume that lies where the shape is assumed: where shapes that "
            "all honour the data differ by more than what is left about each of them",
        ),
        Column(
            "open_below_m2",
            "real",
            "m2",
            "Expected area over which the plume goes on below the bottoms of the holes; the ground "
            "there is in no volume",
        ),
        Column(
            "mass_kg",
            "real",
            "kg",
            "Median mass dissolved in the water of that volume, any depth, where a porosity is "
            "set; nothing sorbed to the ground or lying in it as a phase of its own is counted",
        ),
        Column("mass_low_kg", "real", "kg", "10 % quantile of the dissolved mass"),
        Column("mass_high_kg", "real", "kg", "90 % quantile of the dissolved mass"),
        RUN,
    ),
    geometry="MultiPolygon",
)

PLUME_LINE = Table(
    "plume_line",
    "Plume lines of confidence",
    "Outer line: with the confidence given the whole plume within the mapped ground, but for "
    "specks of 2 % of its area, lies inside it. Inner line: with that confidence its inside lies "
    "above the criterion at some depth, but for such specks. As good as the model of the field "
    "is; a line that ends at the map is open there",
    "derived",
    (
        ANALYTE,
        ROUND,
        CRITERION,
        Column("line", "text", "", "Which line", allowed=("outer", "inner"), required=True),
        Column("confidence", "real", "1", "That the promise of the line holds", required=True),
        Column(
            "chance_at_line",
            "real",
            "1",
            "Smoothed chance of exceeding, place by place, on the line",
        ),
        Column("area_m2", "real", "m2", "Area inside the line"),
        Column("closed", "boolean", "", "Whether the line nowhere ends at the border of the map"),
        Column("open_m", "real", "m", "Length along which it does"),
        NOTES,
        RUN,
    ),
    geometry="MultiPolygon",
)

PLUME_CHANGE = Table(
    "plume_change",
    "Plume change between rounds",
    "Ground gained, lost and unchanged between two rounds that follow each other, where both are "
    "sure enough; the rest is uncertain. The classes cover the area of the map",
    "derived",
    (
        ANALYTE,
        Column("round_before", "text", "", "Earlier sampling round"),
        Column("round", "text", "", "Later sampling round"),
        CRITERION,
        Column(
            "change",
            "text",
            "",
            "What became of the ground: from below to above the criterion, from above to below, "
            "above or below in both rounds, or uncertain, which is no change",
            allowed=CHANGES,
            required=True,
        ),
        Column(
            "confidence",
            "real",
            "1",
            "Least chance that the class is right, however the rounds depend on each other",
        ),
        PLACE,
        ELEVATION,
        Column("area_m2", "real", "m2", "Area of the class"),
        Column(
            "expected_change_m2",
            "real",
            "m2",
            "Expected area above the criterion now less that before, over the whole map",
        ),
        RUN,
    ),
    geometry="MultiPolygon",
)

HEAD_CONTOUR = Table(
    "head_contour",
    "Head contours",
    "Lines of equal head through the shallowest head of each borehole at its latest date",
    "derived",
    (
        Column("head_m", "real", "m", "Head, up from the vertical datum"),
        LABEL,
        Column("boreholes", "integer", "1", "Boreholes that the surface passes through"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
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
