"""The derived tables of fitted models and of what they predict where data are held out."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import HOLE, INTERVAL, QUANTITY, ROUND, RUN, UNIT
from geoprofile.schema.table import Column, Table

MODEL = Table(
    "model",
    "Models between boreholes",
    "The fitted model of each quantity and round, and its leave-one-borehole-out cross-validation",
    "derived",
    (
        QUANTITY,
        ROUND,
        UNIT,
        Column("transform", "text", "", "Scale on which the field is modelled"),
        Column("trend", "text", "", "Form of the trend"),
        Column(
            "geology",
            "text",
            "",
            "Whether the field stops at the surfaces between hydrostratigraphic units",
            allowed=("none", "units"),
        ),
        Column("covariance", "text", "", "Covariance model"),
        Column("sill", "real", "1", "Variance of log10 of the quantity about its mean"),
        Column("nugget", "real", "1", "Variance of log10 at scales shorter than an interval"),
        Column("length_along_m", "real", "m", "Correlation length along the azimuth"),
        Column("length_across_m", "real", "m", "Correlation length across the azimuth"),
        Column("length_vertical_m", "real", "m", "Correlation length across the layers"),
        Column("azimuth_deg", "real", "deg", "Azimuth of the longest correlation"),
        Column("dip_deg", "real", "deg", "Dip along the azimuth, downwards positive"),
        Column("data_count", "integer", "1", "Intervals with a value or a limit"),
        Column("nondetect_count", "integer", "1", "Intervals below their limit"),
        Column("borehole_count", "integer", "1", "Boreholes with data"),
        Column(
            "log_score", "real", "1", "Mean of -ln density at held-out boreholes, lower is better"
        ),
        Column(
            "log_score_constant",
            "real",
            "1",
            "The same of one level and spread for all places; empty where it was not asked for",
        ),
        Column(
            "shown_as",
            "text",
            "",
            "Field, or limits where it predicts held-out boreholes no better than one level for "
            "all places: then it is neither mapped nor used for volumes, discharge or advice",
            allowed=("field", "limits"),
        ),
        Column("rmse_log10", "real", "1", "Root mean square error of log10 at held-out boreholes"),
        Column("coverage_50", "real", "1", "Share of held-out values inside their 50 % interval"),
        Column("coverage_80", "real", "1", "Share of held-out values inside their 80 % interval"),
        Column("coverage_95", "real", "1", "Share of held-out values inside their 95 % interval"),
        Column("warnings", "text", "", "What the reader must know"),
        Column(
            "model", "text", "", "The fitted model in JSON, enough to predict without refitting"
        ),
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

TABLES: tuple[Table, ...] = (MODEL, HELD_OUT)
LEGEND: Mapping[str, LegendPlace] = {
    "model": LegendPlace("Maps", 100),
    "held_out": LegendPlace("Maps", 120),
}
