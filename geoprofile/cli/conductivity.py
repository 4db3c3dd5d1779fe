"""Command `conductivity`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "conductivity",
    "Turn tests into K, grade them and bring the repeats of each interval together.",
    targets=("conductivity",),
    table="interval_conductivity",
    columns=(
        "interval",
        "k_m_per_s",
        "k_low_m_per_s",
        "k_high_m_per_s",
        "tests",
        "grade",
        "notes",
    ),
    draw="draw_tests",
)
