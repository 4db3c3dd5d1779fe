"""The derived table of boreholes."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import HOLE, RUN
from geoprofile.schema.table import Column, Table

BOREHOLE_PATH = Table(
    "borehole_path",
    "Borehole paths",
    "The holes in 3D, from the surveys by minimum curvature",
    "derived",
    (
        HOLE,
        Column("length_m", "real", "m", "Length along the hole"),
        Column("end_elevation_m", "real", "m", "Elevation of the end of the hole"),
        Column("surveyed", "boolean", "", "False where the hole counts as vertical"),
        RUN,
    ),
    geometry="LineStringZ",
)

TABLES: tuple[Table, ...] = (BOREHOLE_PATH,)
LEGEND: Mapping[str, LegendPlace] = {
    "borehole_path": LegendPlace("Boreholes", 10),
}
