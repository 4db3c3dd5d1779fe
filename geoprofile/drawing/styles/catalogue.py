"""How each layer of the site file is drawn, as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from geoprofile.drawing.styles.classes import Bands, Look, Row, Values, Words, grouped
from geoprofile.drawing.styles.colours import INK, PAPER, QUIET
from geoprofile.drawing.styles.entries import defaults_of, entries_of
from geoprofile.drawing.styles.model import Rule, Shape, Style, Symbol
from geoprofile.drawing.symbols import (
    AREA_ORDER,
    GROUND_LINE,
    PROBABILITY_DASH,
    PROBABILITY_LINES,
    PROPOSAL_LETTERS,
    PROPOSED,
    STOP,
    WARN,
    WATER,
    exceedance_words,
    shown_unit,
)
from geoprofile.schema import TABLES, Column
from geoprofile.schema.maps import BLANK_REASONS
from geoprofile.schema.soil_gas import GAS_BLANK_REASONS, SOIL_GAS

WORK_BLUE = WATER
RING = Symbol("line", outline=INK, width_mm=0.2, size_mm=3, depth_rings=True)
BAR = Symbol("line", outline=INK, width_mm=2.2)
BAND = Symbol("fill", outline="", opacity=0.85)
WALL = Symbol("fill", outline=QUIET, width_mm=0.3, opacity=0.85)  # its edge shows it on the map
WordSymbols = Mapping[str | float, tuple[str, Symbol]]
GRADES: WordSymbols = {
    "accepted": ("accepted", Symbol("line", WORK_BLUE, INK, 0.2, depth_rings=True)),
    "qualified": (
        "qualified",
        Symbol("line", WARN, INK, 0.2, depth_rings=True),
    ),
    "rejected": ("rejected", Symbol("line", PAPER, QUIET, 0.2, depth_rings=True)),
}
AREAS: WordSymbols = {
    "site": ("site", Symbol("fill", outline=INK, width_mm=0.5)),
    "source": ("source", Symbol("fill", WARN, STOP, 0.4, opacity=0.5)),
    "no drilling": ("no drilling", Symbol("fill", STOP, STOP, 0.4, hatch=True)),
}
BLANKS: WordSymbols = {
    reason: (reason, Symbol("fill", QUIET, QUIET, 0.2, hatch=True))
    for reason in dict.fromkeys((*BLANK_REASONS, *GAS_BLANK_REASONS))
}
CHANGES: WordSymbols = {
    "gained": ("gained", Symbol("fill", STOP, STOP, 0.3, opacity=0.85)),
    "lost": ("lost", Symbol("fill", WORK_BLUE, WORK_BLUE, 0.3, opacity=0.85)),
    "above in both": ("above in both", Symbol("fill", WARN, WARN, 0.3, opacity=0.5)),
    "below in both": ("below in both", Symbol("fill", outline=QUIET, width_mm=0.2)),
    "uncertain": ("uncertain", Symbol("fill", QUIET, QUIET, 0.2, hatch=True)),
}
SURFACES: WordSymbols = {
    "ground": ("ground", Symbol("line", GROUND_LINE, width_mm=0.7)),
    "water level": ("water level", Symbol("line", WORK_BLUE, width_mm=0.5, dash="dash")),
    "top of unit": ("top of unit", Symbol("line", GROUND_LINE, width_mm=0.4, dash="dash")),
}


CONFIDENCE: WordSymbols = {
    "outer": ("outer line: holds the whole plume", Symbol("fill", outline=INK, width_mm=0.8)),
    "inner": (
        "inner line: lies wholly in the plume",
        Symbol("fill", outline=STOP, width_mm=0.6, dash="dash"),
    ),
}
ASSUMED = Symbol("fill", INK, INK, 0.1, hatch=True)


def _edges(shape: Shape) -> WordSymbols:
    """Plume edges, as in every drawing: the 50 % edge is the strongest line."""
    return {
        p: (
            exceedance_words(p),
            Symbol(shape, outline=line.colour, width_mm=line.width_mm, dash=PROBABILITY_DASH[p]),
        )
        for p, line in PROBABILITY_LINES.items()
    }


ON_SHEET: Mapping[str, Look] = {
    "section_band": Look(BAND, Bands(), ("quantity", "round", "statistic")),
    "section_interval": Look(
        BAR,
        Values("value", hollow_title="not detected", limit="limit"),
        ("quantity", "round"),
        "label",
        "middle",
    ),
    "section_hole": Look(Symbol("line", QUIET, width_mm=0.5), None, (), "borehole", "top"),
    "section_plume": Look(
        Symbol("fill", outline=STOP), Words("probability", _edges("fill")), ("analyte", "round")
    ),
    "section_assumed": Look(ASSUMED, None, ("quantity", "round")),
    "section_surface": Look(
        Symbol("line", INK), Words("surface", SURFACES), label="hydro_unit", label_at="middle"
    ),
}
OWN: Mapping[str, Look] = {
    "borehole": Look(Symbol("marker", PAPER, INK, 0.5, 2.6), label="borehole"),
    "area": Look(
        Symbol("fill", outline=INK),
        Words("kind", AREAS),
        label="name",
        upwards=("kind", AREA_ORDER),
    ),
    "section_line": Look(Symbol("line", INK, width_mm=0.5, dash="dash"), label="name"),
    "borehole_path": Look(Symbol("line", INK, width_mm=0.4)),
    "hydro_unit": Look(
        Symbol("line", QUIET, INK, 0.2, 2.4, depth_rings=True), None, (), "hydro_unit", "top"
    ),
    "conductivity": Look(RING, Words("grade", GRADES)),
    "interval_conductivity": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "k_profile": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "lugeon": Look(RING, Values("lugeon", "K", "no value", "Lu")),
    "concentration": Look(
        RING,
        Values("value_ug_per_l", "", "not detected", "ug/L", "limit_ug_per_l"),
        ("round", "analyte", "medium"),
    ),
    "soil_gas": Look(
        RING,
        Values("value_ug_per_m3", "", "not detected", "ug/m3", "limit_ug_per_m3"),
        ("round", "analyte"),
    ),
    "soil_gas_band": Look(BAND, Bands(), ("quantity", "round", "statistic", "depth_m")),
    "soil_gas_blank": Look(
        Symbol("fill", QUIET, QUIET, 0.2, hatch=True),
        Words("reason", BLANKS),
        ("quantity", "round", "depth_m"),
    ),
    "head": Look(
        Symbol("marker", WORK_BLUE, INK, 0.2, 2.4, "triangle"), None, (), "head_m", "below", 2
    ),
    "flow": Look(Symbol("line", WORK_BLUE, width_mm=0.9, arrow=True)),
    "head_contour": Look(Symbol("line", WORK_BLUE, width_mm=0.3), label="label", label_at="middle"),
    "map_band": Look(
        BAND,
        Bands(),
        ("quantity", "round", "statistic", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "map_blank": Look(
        Symbol("fill", QUIET, QUIET, 0.2, hatch=True),
        Words("reason", BLANKS),
        ("quantity", "round", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "map_assumed": Look(
        ASSUMED,
        None,
        ("quantity", "round", "surface", "hydro_unit", "depth_m", "elevation_m"),
    ),
    "transmissivity_band": Look(BAND, Bands(), ("quantity", "statistic", "surface", "hydro_unit")),
    "plume_extent": Look(
        Symbol("fill", outline=STOP),
        Words("probability", _edges("fill")),
        ("analyte", "round", "surface", "elevation_m"),
    ),
    "plume_line": Look(
        Symbol("fill", outline=STOP),
        Words("line", CONFIDENCE),
        ("analyte", "round"),
    ),
    "plume_change": Look(
        BAND,
        Words("change", CHANGES),
        ("analyte", "round_before", "round", "surface", "elevation_m"),
    ),
    "section_trace": Look(Symbol("line", INK, width_mm=0.8)),
    **ON_SHEET,
    **{f"{table}_exaggerated": look for table, look in ON_SHEET.items()},
    "section_wall": Look(WALL, Bands(), ("quantity", "round")),
    "discharge": Look(Symbol("line", STOP, width_mm=1.2), label="analyte"),
    "discharge_cell": Look(
        BAND,
        Values("flux_g_per_m2_per_day", "flux", "", "g/m2/d"),
        ("analyte", "round"),
    ),
    "next_test": Look(
        Symbol("line", PROPOSED, INK, 0.3, 3.6, "square", depth_rings=True),
        None,
        (),
        "rank",
        "top",
        label_before=PROPOSAL_LETTERS["next_test"],
    ),
    "next_borehole": Look(
        Symbol("marker", PROPOSED, INK, 0.3, 5.0, "diamond"),
        label="rank",
        label_before=PROPOSAL_LETTERS["next_borehole"],
    ),
    "next_step": Look(Symbol("marker", PROPOSED, INK, 0.3, 3.2), label="label"),
    "field_programme": Look(Symbol("marker", PROPOSED, INK, 0.3, 3.2), label="number"),
}
PLAIN: Mapping[Shape, Symbol] = {
    "marker": Symbol("marker", QUIET, INK, 0.2, 2.4),
    "line": Symbol("line", INK, width_mm=0.4),
    "fill": Symbol("fill", outline=QUIET, width_mm=0.3),
}
# a point drawn in the GIS brings its own coordinates into the columns
DEFAULTS = {"borehole": {"x": "$x", "y": "$y"}}


@cache
def looks() -> Mapping[str, Look]:
    """How each table with shapes is drawn, those of installed products included.

    A table of a product that offers no look is drawn plainly, by the shape that it has.
    """
    from geoprofile.plugins.registry import offered_by_all

    found = dict(OWN)
    for more in offered_by_all("looks"):
        found |= more
    for table in TABLES.values():
        if table.geometry and table.name not in found:
            found[table.name] = Look(PLAIN[_shape(table.geometry)])
    return found


def _shape(geometry: str) -> Shape:
    """How a type of geometry is drawn."""
    if "Polygon" in geometry:
        return "fill"
    return "line" if "LineString" in geometry else "marker"


def needed_columns(table: str) -> tuple[str, ...]:
    """Columns of the rows that `style_of` asks for; none where the style is always the same."""
    look = looks().get(table)
    if look is None:
        return ()
    wanted = {*look.groups, *(look.classes.columns if look.classes else ())}
    return tuple(c.name for c in TABLES[table].columns if c.name in wanted)


def style_of(table: str, rows: Sequence[Row] = ()) -> Style:
    """The style of a table for the rows it holds, which need only `needed_columns`."""
    known = TABLES[table]
    aliases = {c.name: alias(c) for c in known.columns}
    look = looks().get(table)
    if look is None or known.geometry is None:
        return Style(
            table, None, aliases=aliases, defaults=defaults_of(known), entries=entries_of(known)
        )
    rules = _rules(table, look, rows) or (Rule(known.title, symbol=look.symbol),)
    return Style(
        table,
        look.symbol.shape,
        rules,
        look.label,
        look.label_at,
        look.label_decimals,
        look.label_before,
        look.upwards,
        aliases,
        {**defaults_of(known), **DEFAULTS.get(table, {})},
        (known.geometry or "").endswith("Z"),
        entries_of(known),
    )


def alias(column: Column) -> str:
    """A column's name in words with its unit: `depth [m]`, or `depth to water [m]`."""
    words = column.name
    for suffix in _suffixes(column.unit):
        words = words.removesuffix(suffix)
    words = words.replace("_", " ")
    if column.kind == "datetime":
        return f"{words} [UTC]"
    return f"{words} [{shown_unit(column.unit)}]" if column.unit not in ("", "1") else words


def _suffixes(unit: str) -> tuple[str, ...]:
    plain = unit.lower().replace("/", "_per_").replace("1_per_", "per_")
    return f"_{plain}", f"_{plain.replace('_per_', '_')}", f"_{plain.removeprefix('deg')}"


def _rules(table: str, look: Look, rows: Sequence[Row]) -> tuple[Rule, ...]:
    classes = look.classes
    if classes is None:
        return ()

    def divide(members: Sequence[Row]) -> tuple[Rule, ...]:
        return classes.rules(members, look.symbol)

    if not look.groups:
        return divide(rows)
    return grouped(rows, look.groups, _title, divide)


def _title(row: Row) -> str:
    """What a group is, in the legend: `TCE, 2031-05, median, -12 m`."""
    names = ("quantity", "analyte", "round_before", "round", "statistic")
    parts = [_word(row.get(c)) + _medium(row, c) for c in names]
    parts.append(_place(row))
    return ", ".join(p for p in parts if p)


def _medium(row: Row, column: str) -> str:
    """What a substance was found in, where that is not water."""
    return f" in {SOIL_GAS}" if column == "analyte" and row.get("medium") == SOIL_GAS else ""


def _place(row: Row) -> str:
    """Where a map lies: `-12 m`, `5 m below ground`, `unit sand`, or the surface by name."""
    if row.get("elevation_m") is not None:
        return f"{row['elevation_m']:g} m"
    if row.get("depth_m") is not None:
        return f"{row['depth_m']:g} m below ground"
    return " ".join(p for p in (_word(row.get("surface")), _word(row.get("hydro_unit"))) if p)


def _word(value: Any) -> str:
    return "" if value is None else str(value)
