"""The derived tables: what geoprofile computes and rebuilds as a whole; no place for notes."""

from __future__ import annotations

from geoprofile.schema.advice import ADVICE
from geoprofile.schema.columns import (
    BOTTOM,
    GRADES,
    HOLE,
    INTERVAL,
    K_HIGH,
    K_LOW,
    NOTES,
    QUANTITY,
    ROUND,
    RUN,
    SD_K,
    TOP,
    UNIT,
    K,
)
from geoprofile.schema.fits import HELD_OUT, TEST_CURVE
from geoprofile.schema.maps import (
    HEAD_CONTOUR,
    MAP_ASSUMED,
    MAP_BAND,
    MAP_BLANK,
    PLUME_CHANGE,
    PLUME_EXTENT,
    PLUME_LINE,
    TRANSMISSIVITY_BAND,
)
from geoprofile.schema.rounds import ROUNDS
from geoprofile.schema.sections import SECTIONS
from geoprofile.schema.soil_gas import GAS
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

HYDRO_UNIT = Table(
    "hydro_unit",
    "Hydrostratigraphic units",
    "Where each borehole meets the units that maps and fields keep apart",
    "derived",
    (
        HOLE,
        Column("hydro_unit", "text", "", "Hydrostratigraphic unit", required=True),
        Column("unit_number", "integer", "1", "Order of the units, 1 is the uppermost"),
        TOP,
        BOTTOM,
        Column("top_elevation_m", "real", "m", "Elevation of the top, up from the vertical datum"),
        Column("bottom_elevation_m", "real", "m", "Elevation of the bottom met in the hole"),
        Column("base_met", "boolean", "", "False where the log ends inside the unit"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

CONDUCTIVITY = Table(
    "conductivity",
    "K of each test",
    "Hydraulic conductivity by test and method, with its spread, grade and reasons",
    "derived",
    (
        Column("test", "text", "", "Test"),
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("method", "text", "", "Method of analysis"),
        K,
        K_LOW,
        K_HIGH,
        SD_K,
        Column(
            "k_as_fitted_m_per_s",
            "real",
            "m/s",
            "K that this method gives with no skin, no leak, and Kv/Kh as told or 0.25",
        ),
        Column("specific_storage_per_m", "real", "1/m", "Specific storage, where fitted"),
        Column("start_s", "real", "s", "Start of the response that was used"),
        Column("initial_displacement_m", "real", "m", "Displacement at the start, from the fit"),
        Column("window_high", "real", "1", "Upper end of the fit window, normalised head"),
        Column("window_low", "real", "1", "Lower end of the fit window, normalised head"),
        Column("readings_used", "integer", "1", "Readings in the fit"),
        Column("grade", "text", "", "Grade of the test", allowed=GRADES),
        Column("preferred", "boolean", "", "Whether this method is the preferred one"),
        Column("chosen_by", "text", "", "Who chose the method", allowed=("program", "user")),
        Column("chosen_because", "text", "", "Why the preferred method won"),
        Column("refused", "text", "", "Why other methods for this kind of test were refused"),
        Column(
            "lugeon",
            "real",
            "Lu",
            "Representative Lugeon value: litres per minute and metre at a net pressure of 1 MPa",
        ),
        Column("pattern", "text", "", "What the pressure steps tell of the ground"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

CONDUCTIVITY_BUDGET = Table(
    "conductivity_budget",
    "Budget of each K",
    "What spreads the K of each test, input by input (JCGM 100:2008); the squares of the "
    "contributions sum to that of sd_log10_k",
    "derived",
    (
        Column("test", "text", "", "Test"),
        INTERVAL,
        HOLE,
        Column("input", "text", "", "What K depends on"),
        Column("estimate", "real", "", "Its value, in the unit given"),
        Column("unit", "text", "", "Unit of estimate and standard uncertainty"),
        Column("standard_uncertainty", "real", "", "Its standard uncertainty, in the unit given"),
        Column("distribution", "text", "", "How it is thought to be distributed"),
        Column("sensitivity", "real", "", "Change of log10 K by the input, per unit given"),
        Column("contribution_log10", "real", "1", "Contribution to sd_log10_k"),
        Column("share", "real", "1", "Share of the variance of log10 K"),
        RUN,
    ),
)

K_PROFILE = Table(
    "k_profile",
    "K profile of each hole",
    "K in cells finer than a zone, from all tests of a hole together; averaged over what skin and "
    "Kv/Kh add to P",
    "derived",
    (
        HOLE,
        TOP,
        BOTTOM,
        K,
        K_LOW,
        K_HIGH,
        SD_K,
        Column("zones", "integer", "1", "Zones that the profile of the hole rests on"),
        Column("added_to_p", "real", "1", "What skin and Kv/Kh add to P in this hole"),
        Column("added_to_p_low", "real", "1", "Lower end of its 95 % interval"),
        Column("added_to_p_high", "real", "1", "Upper end of its 95 % interval"),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

LUGEON = Table(
    "lugeon",
    "Lugeon values",
    "Lugeon value of each pressure step: 1 Lu is 1 L/min per metre at a net pressure of 1 MPa",
    "derived",
    (
        Column("test", "text", "", "Test"),
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        Column("step", "integer", "1", "Number of the pressure step"),
        Column("flow_l_min", "real", "L/min", "Flow into the zone, loss in blank casing taken off"),
        Column("net_head_m", "real", "m", "Head in the zone above static"),
        Column("net_pressure_kpa", "real", "kPa", "Pressure in the zone above static"),
        Column("pipe_loss_m", "real", "m", "Head lost in the string"),
        Column("lugeon", "real", "Lu", "Lugeon value of the step"),
        Column("representative", "boolean", "", "Whether the step stands for the test"),
        RUN,
    ),
    geometry="LineStringZ",
)

INTERVAL_CONDUCTIVITY = Table(
    "interval_conductivity",
    "K of each interval",
    "One K per interval from its accepted and qualified tests, with spread and transmissivity",
    "derived",
    (
        INTERVAL,
        HOLE,
        TOP,
        BOTTOM,
        K,
        K_LOW,
        K_HIGH,
        SD_K,
        Column(
            "transmissivity_m2_per_s",
            "real",
            "m2/s",
            "Transmissivity of the interval, K times length",
        ),
        Column("tests", "integer", "1", "Tests that the value rests on"),
        Column("grade", "text", "", "Grade of the value", allowed=GRADES),
        NOTES,
        RUN,
    ),
    geometry="LineStringZ",
)

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

FINDING = Table(
    "finding",
    "Findings",
    "What the data check found, with the first thing to do",
    "derived",
    (
        Column("source_table", "text", "", "Table concerned"),
        Column("row_key", "text", "", "Row concerned"),
        Column("what", "text", "", "What was found"),
        Column(
            "severity", "text", "", "How much it matters", allowed=("note", "warning", "serious")
        ),
        Column("what_to_do", "text", "", "The first thing to do"),
        Column("step", "text", "", "Step that found it"),
        RUN,
    ),
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

DERIVED: tuple[Table, ...] = (
    BOREHOLE_PATH,
    HYDRO_UNIT,
    CONDUCTIVITY,
    CONDUCTIVITY_BUDGET,
    K_PROFILE,
    LUGEON,
    TEST_CURVE,
    INTERVAL_CONDUCTIVITY,
    CONCENTRATION,
    SAMPLING_QUALITY,
    HEAD,
    FLOW,
    HEAD_CONTOUR,
    MODEL,
    HELD_OUT,
    MAP_BAND,
    MAP_BLANK,
    MAP_ASSUMED,
    TRANSMISSIVITY_BAND,
    PLUME_EXTENT,
    PLUME_LINE,
    PLUME_CHANGE,
    *ROUNDS,
    *GAS,
    *SECTIONS,
    *ADVICE,
    FINDING,
)
