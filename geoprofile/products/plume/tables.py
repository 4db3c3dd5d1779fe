"""The derived tables of plumes: extent, lines of confidence and change."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import CRITERION, NOTES, PROBABILITY, ROUND, RUN
from geoprofile.schema.table import Column, Table

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

TABLES: tuple[Table, ...] = (PLUME_EXTENT, PLUME_LINE, PLUME_CHANGE)
LEGEND: Mapping[str, LegendPlace] = {
    "plume_line": LegendPlace("Maps", 10),
    "plume_extent": LegendPlace("Maps", 20, below=20, by_theme=True),
    "plume_change": LegendPlace("Maps", 60, below=30),
}
