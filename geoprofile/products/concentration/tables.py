"""The derived tables of concentrations, and how sound their sampling is."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import BOTTOM, HOLE, INTERVAL, NOTES, ROUND, RUN, TOP
from geoprofile.schema.table import Column, Table

CONCENTRATION = Table(
    "concentration",
    "Concentration of each interval",
    "One row per interval, analyte and campaign; a non-detect has a limit and no value",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("analyte", "text", "", "Substance"),
        Column(
            "round",
            "text",
            "",
            "Sampling round or campaign; 'and earlier' where earlier results fill it up",
        ),
        Column("sampled_round", "text", "", "Round of the sample, which may be an earlier one"),
        Column("medium", "text", "", "What was sampled"),
        Column("sampled_at", "datetime", "", "Time of the latest sample used"),
        Column("age_d", "real", "d", "Age before the latest sample of the campaign"),
        Column("value_ug_per_l", "real", "ug/L", "Concentration; empty if not detected"),
        Column("detected", "boolean", "", "Whether the substance was detected"),
        Column("limit_ug_per_l", "real", "ug/L", "Limit of a non-detect"),
        Column(
            "sd_log10", "real", "1", "Standard deviation of log10 of the value, from duplicates"
        ),
        Column("samples", "integer", "1", "Samples that the value rests on"),
        Column("exceeds", "boolean", "", "Above the criterion; empty where that is not known"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

SAMPLING_QUALITY = Table(
    "sampling_quality",
    "Sampling quality",
    "Duplicates beside their primary samples, blanks, and holding times, result by result",
    "derived",
    (
        Column(
            "check_of",
            "text",
            "",
            "What is looked at",
            allowed=("duplicate", "blank", "holding time"),
        ),
        Column("sample", "text", "", "Sample"),
        Column("other_sample", "text", "", "Primary sample of a duplicate"),
        INTERVAL,
        ROUND,
        Column("analyte", "text", "", "Substance"),
        Column("value_ug_per_l", "real", "ug/L", "Concentration; empty if not detected"),
        Column("limit_ug_per_l", "real", "ug/L", "Limit"),
        Column("other_value_ug_per_l", "real", "ug/L", "Concentration of the primary sample"),
        Column("relative_difference", "real", "1", "Difference over the mean of both"),
        Column("held_d", "real", "d", "Time from sampling to analysis"),
        Column("holding_limit_d", "real", "d", "Longest time allowed"),
        Column(
            "verdict",
            "text",
            "",
            "Whether it agrees",
            allowed=("fine", "doubtful", "not comparable"),
        ),
        NOTES,
        RUN,
    ),
)

TABLES: tuple[Table, ...] = (CONCENTRATION, SAMPLING_QUALITY)
LEGEND: Mapping[str, LegendPlace] = {
    "concentration": LegendPlace("Samples", 10, by_theme=True),
    "sampling_quality": LegendPlace("Samples", 50),
}
