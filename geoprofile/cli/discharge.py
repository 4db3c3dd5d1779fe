"""Command `discharge`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "discharge",
    "Compute mass discharge through sections.\n\n"
    "Of the sections, those count that lie across the flow.",
    targets=("discharge",),
    table="discharge",
    columns=(
        "section",
        "analyte",
        "round",
        "discharge_g_per_day",
        "discharge_low_g_per_day",
        "discharge_high_g_per_day",
        "discharge_least_g_per_day",
        "discharge_most_g_per_day",
        "planes",
        "notes",
    ),
    draw="draw_discharge",
)
