"""Command `map`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "map",
    "Draw the map layers of bands and the plume extent.",
    targets=(
        "map_band",
        "plume_extent",
    ),
    table="plume_extent",
    columns=(
        "analyte",
        "round",
        "criterion_ug_per_l",
        "probability",
        "surface",
        "elevation_m",
        "area_m2",
        "volume_m3",
    ),
    draw="draw_map",
    many_cells=True,
)
