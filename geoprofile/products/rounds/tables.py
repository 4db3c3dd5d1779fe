"""The derived tables of results round by round."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import BOTTOM, HOLE, INTERVAL, RUN, TOP
from geoprofile.schema.table import Column, Table

ANALYTE = Column("analyte", "text", "", "Substance")

MEDIUM = Column("medium", "text", "", "What was sampled")

ROUND_CHANGE = Table(
    "round_change",
    "Change from round to round",
    "One row per interval, analyte and two rounds of it that follow each other",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        ANALYTE,
        MEDIUM,
        Column("round_before", "text", "", "Earlier round of the two"),
        Column("round", "text", "", "Later round of the two"),
        Column("sampled_before", "datetime", "", "Time of the earlier sample"),
        Column("sampled_at", "datetime", "", "Time of the later sample"),
        Column("value_before_ug_per_l", "real", "ug/L", "Earlier value; empty if not detected"),
        Column("limit_before_ug_per_l", "real", "ug/L", "Limit of an earlier non-detect"),
        Column("value_ug_per_l", "real", "ug/L", "Later value; empty if not detected"),
        Column("limit_ug_per_l", "real", "ug/L", "Limit of a later non-detect"),
        Column("change_log10", "real", "1", "Change of log10; empty where one is a non-detect"),
        Column("scatter_log10", "real", "1", "Change that 95 % of duplicates stay within"),
        Column(
            "verdict",
            "text",
            "",
            "Whether the change is more than the scatter of duplicates",
            allowed=("rise", "fall", "within scatter", "not detected in both", "not known"),
        ),
        RUN,
    ),
)

TREND = Table(
    "trend",
    "Trend of each interval",
    "Mann-Kendall test and Sen's slope of each interval and analyte of four rounds or more",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        ANALYTE,
        MEDIUM,
        Column("rounds", "integer", "1", "Rounds with a result"),
        Column("nondetects", "integer", "1", "Results among them below their limit"),
        Column("first_sampled_at", "datetime", "", "Time of the first sample"),
        Column("sampled_at", "datetime", "", "Time of the last sample"),
        Column("s", "integer", "1", "Rises less falls over all pairs of rounds"),
        Column("p", "real", "1", "Chance of so large an S without a trend, two-sided"),
        Column("slope_ug_per_l_year", "real", "ug/L/a", "Median slope; empty with non-detects"),
        Column("slope_low_ug_per_l_year", "real", "ug/L/a", "Lower end of the slope's interval"),
        Column("slope_high_ug_per_l_year", "real", "ug/L/a", "Upper end of the slope's interval"),
        Column(
            "verdict",
            "text",
            "",
            "Whether a trend is shown",
            allowed=("rising", "falling", "none shown"),
        ),
        RUN,
    ),
)

TABLES: tuple[Table, ...] = (ROUND_CHANGE, TREND)
LEGEND: Mapping[str, LegendPlace] = {
    "round_change": LegendPlace("Samples", 30),
    "trend": LegendPlace("Samples", 40),
}
