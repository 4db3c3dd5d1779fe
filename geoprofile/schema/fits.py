"""Derived tables that show how well something was fitted: test curves and held-out values."""

from __future__ import annotations

from geoprofile.schema.columns import HOLE, INTERVAL, QUANTITY, ROUND, RUN, UNIT
from geoprofile.schema.table import Column, Table

TEST_CURVE = Table(
    "test_curve",
    "Curves of tests",
    "Readings of each test, thinned, and the curve of its preferred method; of a test in pressure "
    "steps, flow and net head of each step",
    "derived",
    (
        Column("test", "text", "", "Test"),
        INTERVAL,
        HOLE,
        Column("method", "text", "", "Preferred method of analysis"),
        Column("elapsed_s", "real", "s", "Time since the start that was used"),
        Column("normalised_head", "real", "1", "Displacement over that at the start, as read"),
        Column("fitted_normalised_head", "real", "1", "The same by the fitted curve"),
        Column("flow_l_min", "real", "L/min", "Flow of the step"),
        Column("net_head_m", "real", "m", "Net head in the zone during the step"),
        Column("fitted_net_head_m", "real", "m", "The same by the fitted curve"),
        Column("used", "boolean", "", "Whether the reading was fitted"),
        RUN,
    ),
)

HELD_OUT = Table(
    "held_out",
    "Held-out values",
    "Each interval predicted from the other boreholes, beside what was measured in it",
    "derived",
    (
        QUANTITY,
        ROUND,
        UNIT,
        INTERVAL,
        HOLE,
        Column("measured", "real", "", "Measured value, in the unit given; empty if not detected"),
        Column("limit", "real", "", "Limit that it lies below, in the unit given"),
        Column("predicted_median", "real", "", "Predicted median, in the unit given"),
        Column("predicted_low", "real", "", "10 % of what was predicted, in the unit given"),
        Column("predicted_high", "real", "", "90 % of what was predicted, in the unit given"),
        RUN,
    ),
)
