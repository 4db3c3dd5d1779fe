"""The derived tables of soil gas: values, models and maps, never one with those of water."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import (
    BLANK_LIMIT,
    BOTTOM,
    CLASS,
    HOLE,
    INTERVAL,
    LABEL,
    LOWER,
    NOTES,
    QUANTITY,
    ROUND,
    RUN,
    STATISTIC,
    TOP,
    UNIT,
    UPPER,
)
from geoprofile.schema.table import Column, Table

GAS_BLANK_REASONS = ("below the water level", "far from data", "uncertain")

DEPTH = Column("depth_m", "real", "m", "Depth of the map below ground")

VALUES = Table(
    "soil_gas",
    "Soil gas of each interval",
    "One row per interval, analyte and campaign of soil-gas samples, in the units of gas; a "
    "non-detect has a limit and no value",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("analyte", "text", "", "Substance"),
        Column("round", "text", "", "Sampling round or campaign"),
        Column("sampled_at", "datetime", "", "Time of the latest sample used"),
        Column("value_ug_per_m3", "real", "ug/m3", "Concentration in gas; empty if not detected"),
        Column("detected", "boolean", "", "Whether the substance was detected"),
        Column("limit_ug_per_m3", "real", "ug/m3", "Limit of a non-detect"),
        Column("value_ppmv", "real", "ppmv", "The same in parts per million by volume"),
        Column("limit_ppmv", "real", "ppmv", "Its limit in parts per million by volume"),
        Column(
            "molar_mass_g_per_mol", "real", "g/mol", "Molar mass that the parts by volume rest on"
        ),
        Column("temperature_c", "real", "degC", "Temperature that they refer to"),
        Column("pressure_kpa", "real", "kPa", "Pressure that they refer to"),
        Column("sd_log10", "real", "1", "Standard deviation of log10 of the value"),
        Column("exceeds", "boolean", "", "Above the criterion for soil gas; empty where not known"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

MODEL = Table(
    "soil_gas_model",
    "Models of soil gas",
    "The model of each substance in soil gas, from gas alone, and how it predicts held-out "
    "boreholes",
    "derived",
    (
        QUANTITY,
        ROUND,
        UNIT,
        Column("data_count", "integer", "1", "Intervals used"),
        Column("nondetect_count", "integer", "1", "Intervals among them below their limit"),
        Column("borehole_count", "integer", "1", "Boreholes they lie in"),
        Column("length_along_m", "real", "m", "Correlation length, along the longest axis"),
        Column("length_across_m", "real", "m", "Correlation length, across it"),
        Column("length_vertical_m", "real", "m", "Correlation length, vertical"),
        Column("rmse_log10", "real", "1", "Typical error of log10 at held-out boreholes"),
        Column("coverage_80", "real", "1", "Share of held-out values in their 80 % interval"),
        Column("log_score", "real", "1", "Mean of minus ln density at them: lower is better"),
        Column("log_score_constant", "real", "1", "The same of one level for all places"),
        Column(
            "shown_as",
            "text",
            "",
            "A map, or the measured values alone where one level predicts no worse",
            allowed=("map", "values"),
        ),
        Column("warnings", "text", "", "What to bear in mind"),
        RUN,
    ),
)

BAND = Table(
    "soil_gas_band",
    "Soil gas map bands",
    "Filled bands of soil gas at depths below ground, above the water level",
    "derived",
    (QUANTITY, ROUND, STATISTIC, DEPTH, LOWER, UPPER, UNIT, LABEL, *CLASS, RUN),
    geometry="MultiPolygon",
)

BLANK = Table(
    "soil_gas_blank",
    "Soil gas map blanks",
    "Where a map of soil gas shows nothing, and why",
    "derived",
    (
        QUANTITY,
        ROUND,
        DEPTH,
        Column(
            "reason",
            "text",
            "",
            "Why nothing is shown; where several reasons hold, the first in this order",
            allowed=GAS_BLANK_REASONS,
            required=True,
        ),
        *BLANK_LIMIT,
        RUN,
    ),
    geometry="MultiPolygon",
)

TABLES: tuple[Table, ...] = (VALUES, MODEL, BAND, BLANK)
LEGEND: Mapping[str, LegendPlace] = {
    "soil_gas": LegendPlace("Samples", 20),
    "soil_gas_blank": LegendPlace("Maps", 80, below=70),
    "soil_gas_band": LegendPlace("Maps", 90, below=80),
    "soil_gas_model": LegendPlace("Maps", 110),
}
