"""The derived tables of K: of tests, intervals and holes, with budgets and curves."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.plugins import LegendPlace
from geoprofile.schema.columns import (
    BOTTOM,
    GRADES,
    HOLE,
    INTERVAL,
    K_HIGH,
    K_LOW,
    NOTES,
    RUN,
    SD_K,
    TOP,
    K,
)
from geoprofile.schema.table import Column, Table

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

TABLES: tuple[Table, ...] = (
    CONDUCTIVITY,
    CONDUCTIVITY_BUDGET,
    K_PROFILE,
    LUGEON,
    TEST_CURVE,
    INTERVAL_CONDUCTIVITY,
)
LEGEND: Mapping[str, LegendPlace] = {
    "interval_conductivity": LegendPlace("Tests", 10),
    "conductivity": LegendPlace("Tests", 20),
    "k_profile": LegendPlace("Tests", 30),
    "lugeon": LegendPlace("Tests", 40),
    "conductivity_budget": LegendPlace("Tests", 50),
    "test_curve": LegendPlace("Tests", 60),
}
