"""Which table stands in which group of the legend, in the order of the work."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from geoprofile.plugins.registry import products_with

SECTIONS = "Sections"
SHEETS = (SECTIONS, "Sections, exaggerated")
MAPS = "Maps"
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Site", ("borehole", "section_line", "area", "criterion", "attachment")),
    (
        "Boreholes",
        ("borehole_path", "hydro_unit", "survey", "construction", "lithology", "caliper"),
    ),
    ("Packers and intervals", ("packer", "spacer", "interval")),
    (
        "Tests",
        (
            "interval_conductivity",
            "conductivity",
            "k_profile",
            "lugeon",
            "conductivity_budget",
            "test_curve",
            "test",
            "reading",
            "pressure_step",
            "step_flow",
            "pipe_loss",
        ),
    ),
    ("Water levels", ("head", "head_contour", "flow", "water_level")),
    (
        "Samples",
        (
            "concentration",
            "soil_gas",
            "round_change",
            "trend",
            "sampling_quality",
            "sample",
            "result",
            "replaced_result",
        ),
    ),
    (
        MAPS,
        (
            "plume_line",
            "plume_extent",
            "map_assumed",
            "map_blank",
            "map_band",
            "plume_change",
            "transmissivity_band",
            "soil_gas_blank",
            "soil_gas_band",
            "model",
            "soil_gas_model",
            "held_out",
        ),
    ),
    (
        SECTIONS,
        (
            "section_interval",
            "section_hole",
            "section_surface",
            "section_plume",
            "section_assumed",
            "section_band",
        ),
    ),
    (
        SHEETS[1],
        tuple(
            f"section_{part}_exaggerated"
            for part in ("interval", "hole", "surface", "plume", "assumed", "band")
        ),
    ),
    ("Mass discharge", ("discharge", "discharge_cell", "section_trace", "section_wall")),
    (
        "What next",
        (
            "next_step",
            "field_programme",
            "next_test",
            "next_test_quantity",
            "next_borehole",
            "next_borehole_zone",
            "remaining_uncertainty",
        ),
    ),
    ("Findings", ("finding",)),
)
REST = "Other tables"
# under everything else on the map, whatever their group: from the top down
UNDERNEATH = (
    "area",  # above the maps: what is closed to drilling must not vanish below a plume
    "plume_extent",
    "plume_change",
    "map_blank",
    "map_band",
    "transmissivity_band",
    "soil_gas_blank",
    "soil_gas_band",
    "section_band",
    "section_band_exaggerated",
)
ON_MAP = ("map_band", "map_blank", "plume_extent", "concentration")  # a theme is drawn by these
ALWAYS_SHOWN = ("borehole", "area", "section_line")


@cache
def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The groups, with the tables that products bring: in a group of theirs before the findings."""
    found = dict(GROUPS[:-1])
    for group, tables in _brought():
        found[group] = (*found.get(group, ()), *tables)
    return (*found.items(), GROUPS[-1])


def _brought() -> Iterator[tuple[str, tuple[str, ...]]]:
    for offers in products_with("group"):
        yield offers("group"), tuple(table.name for table in offers("tables"))


def group_of(table: str) -> str:
    """The group of a table."""
    return next((name for name, tables in groups() if table in tables), REST)


def place_of(table: str) -> tuple[int, int]:
    """Where a table stands: its group and its place in it."""
    for number, (_, tables) in enumerate(groups()):
        if table in tables:
            return number, tables.index(table)
    return len(groups()), 0
