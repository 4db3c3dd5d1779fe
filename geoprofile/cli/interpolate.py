"""Command `interpolate`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "interpolate",
    "Fit and cross-validate the models.\n\n"
    "Each is scored by leave-one-borehole-out cross-validation; its figures show every value "
    "beside what the other boreholes predict of it.",
    targets=("model",),
    table="model",
    columns=(
        "quantity",
        "round",
        "trend",
        "data_count",
        "nondetect_count",
        "borehole_count",
        "length_along_m",
        "length_vertical_m",
        "azimuth_deg",
        "log_score",
        "coverage_50",
        "coverage_80",
        "coverage_95",
    ),
    draw="draw_models",
)
