"""The derived tables of plumes and of what else lies on the map beside the bands."""

from __future__ import annotations

from geoprofile.schema.columns import CRITERION, PROBABILITY, ROUND, RUN
from geoprofile.schema.records import Column, Table

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
            "edge_to_border_m",
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
