"""Command `advise`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "advise",
    "Rank the next tests and boreholes by what they are expected to teach.",
    targets=("next_test", "next_borehole"),
    table="next_test",
    columns=(
        "rank",
        "borehole",
        "top_m",
        "bottom_m",
        "purpose",
        "quantity",
        "gain_share",
        "reason",
    ),
    draw="draw_advice",
)
