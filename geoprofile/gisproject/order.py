"""Which table stands in which group of the legend, in the order of the work.

Products say where theirs stand; the groups are in order here, with the input tables at their ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from geoprofile.plugins import LegendPlace
from geoprofile.plugins.registry import offered_by_all, products_with

SECTIONS = "Sections"
SHEETS = (SECTIONS, "Sections, exaggerated")
MAPS = "Maps"
INPUTS: Mapping[str, tuple[str, ...]] = {
    "Site": ("borehole", "section_line", "area", "criterion", "attachment"),
    "Boreholes": ("survey", "construction", "lithology", "caliper"),
    "Packers and intervals": ("packer", "spacer", "interval"),
    "Tests": ("test", "reading", "pressure_step", "step_flow", "pipe_loss"),
    "Water levels": ("water_level",),
    "Samples": ("sample", "result", "replaced_result"),
    MAPS: (),
    SECTIONS: (),
    SHEETS[1]: (),
    "Mass discharge": (),
    "What next": (),
}
LAST = ("Findings", ("finding",))
REST = "Other tables"
ABOVE_MAPS = "area"  # what is closed to drilling must not vanish below a plume
ALWAYS_SHOWN = ("borehole", "area", "section_line")


@cache
def places() -> Mapping[str, LegendPlace]:
    """What the products say of their tables."""
    return {t: place for places in offered_by_all("legend") for t, place in places.items()}


@cache
def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The groups and their tables; a group that only a product knows comes before the findings."""
    found: dict[str, tuple[str, ...]] = dict.fromkeys(INPUTS, ())
    for table, place in sorted(places().items(), key=lambda item: item[1].rank):
        found[place.group] = (*found.get(place.group, ()), table)
    for group, tables in INPUTS.items():
        found[group] += tables
    for offers in products_with("group"):
        group = offers("group")
        tables = tuple(t.name for t in offers("tables") if t.name not in places())
        found[group] = (*found.get(group, ()), *tables)
    return (*found.items(), LAST)


@cache
def underneath() -> tuple[str, ...]:
    """What lies under everything else on the map, whatever its group: from the top down."""
    below = {table: place.below for table, place in places().items() if place.below}
    return (ABOVE_MAPS, *sorted(below, key=below.__getitem__))


def is_by_theme(table: str) -> bool:
    """Whether a layer is on where it shows what the project opens with."""
    return table in places() and places()[table].by_theme


def group_of(table: str) -> str:
    """The group of a table."""
    return next((name for name, tables in groups() if table in tables), REST)


def place_of(table: str) -> tuple[int, int]:
    """Where a table stands: its group and its place in it."""
    for number, (_, tables) in enumerate(groups()):
        if table in tables:
            return number, tables.index(table)
    return len(groups()), 0
