"""The derived tables of heads, their contours and the flow."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import HOLE, INTERVAL, LABEL, NOTES, RUN
from geoprofile.schema.table import Column, Table

HEAD = Table(
    "head",
    "Static heads",
    "Static head per interval and time, with the gradient to the next interval below",
    "derived",
    (
        INTERVAL,
        HOLE,
        Column("measured_at", "datetime", "", "Time of measurement"),
        Column("head_m", "real", "m", "Static head, up from the vertical datum"),
        Column("vertical_gradient", "real", "1", "Head difference over distance, upward positive"),
        Column(
            "vertical_gradient_sd",
            "real",
            "1",
            "Standard deviation of the vertical gradient, from that of the two levels",
        ),
        Column("next_interval", "text", "", "Interval below that the gradient is taken to"),
        NOTES,
        RUN,
    ),
    geometry="PointZ",
)

FLOW = Table(
    "flow",
    "Flow direction",
    "Horizontal hydraulic gradient and its direction from a plane through the heads",
    "derived",
    (
        Column("measured_at", "datetime", "", "Time of the latest head used"),
        Column("gradient", "real", "1", "Horizontal hydraulic gradient"),
        Column("gradient_sd", "real", "1", "Standard deviation of the gradient"),
        Column("azimuth_deg", "real", "deg", "Direction of flow from grid north, clockwise"),
        Column("azimuth_sd_deg", "real", "deg", "Standard deviation of the direction"),
        Column("boreholes", "integer", "1", "Boreholes that the plane rests on"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
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

TABLES: tuple[Table, ...] = (HEAD, FLOW, HEAD_CONTOUR)
LEGEND: Mapping[str, LegendPlace] = {
    "head": LegendPlace("Water levels", 10),
    "head_contour": LegendPlace("Water levels", 20),
    "flow": LegendPlace("Water levels", 30),
}
