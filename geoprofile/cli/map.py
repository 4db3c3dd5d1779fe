"""Command `map`."""

from __future__ import annotations

from geoprofile.cli._step import step_command

COMMAND = step_command(
    "map",
    "Compute the map layers.\n\n"
    "Bands, blanks, transmissivity, head contours, plume extent and change, soil gas.",
    targets=(
        "map_band",
        "transmissivity_band",
        "head_contour",
        "plume_extent",
        "plume_change",
        "soil_gas",
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
        "distance_to_site_boundary_m",
        "volume_m3",
    ),
    draw="draw_map",
    many_cells=True,
)
