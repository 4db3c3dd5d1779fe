"""Pages to print: a plan of the site at a round scale, and a sheet for each borehole."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias
from xml.etree.ElementTree import Element, SubElement

from geoprofile.drawing import people
from geoprofile.drawing.document import document_by
from geoprofile.drawing.styles.model import layer_id
from geoprofile.drawing.symbols import shown_unit
from geoprofile.gisproject.layers import Default, MapLayer, drawing_order
from geoprofile.gisproject.paper import BREAK, Page
from geoprofile.gisproject.scales import Place, bar_for, box_at, scale_for, segment_for
from geoprofile.gisproject.sheets import borehole_sheet, plan_sheet
from geoprofile.store.projects import Box, Contents

PLAN, SHEETS = "Plan", "Borehole sheets"
CAUTION = (
    "Interpolated from a few boreholes; between them the ground may differ. Decisions on health, "
    "drilling or pressure need local codes, the makers' limits and a licensed professional. Locate "
    "buried services before any drilling."
)
PLAN_MAP = (15.0, 10.0, 295.0, 272.0)  # places are laid out on A3 and A4 [mm]
SHEET_MAP = (10.0, 34.0, 92.0, 92.0)
GRID_MM = 60.0  # between coordinates of the plan, at most
RING_MM = 11.0
FILLED = 0.96  # of the map on the plan, at most, by the site
NEARER = 3.3  # times, than a map of the whole site in the same place
HEADING_MM, ROW_MM = 5.0, 3.85
OF_HOLE = "\"borehole\" = attribute(@atlas_feature, 'borehole')"
NUMBER = "coalesce(to_string(round(attribute(@atlas_feature, '{}'), {})), '-')"


def add_layouts(
    root: Element,
    contents: Contents,
    layers: Sequence[MapLayer],
    default: Default,
    extent: Box | None,
    file: str,
) -> None:
    """Add the pages; none to a site without a place yet."""
    listed = SubElement(root, "Layouts")
    if extent is None:
        return
    shown = [m for m in drawing_order(layers) if m.shown]
    _add_plan(listed, contents, shown, default, extent)
    _add_sheets(listed, contents, layers, shown, extent, file)


def _add_plan(
    listed: Element,
    contents: Contents,
    shown: Sequence[MapLayer],
    default: Default,
    extent: Box,
) -> None:
    sheet = plan_sheet()
    page, seen = Page(listed, PLAN, sheet), sheet.place(PLAN_MAP)
    scale = scale_for(extent, (0, 0, seen[2] * FILLED, seen[3] * FILLED))
    centre = (extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2
    of_map = page.map(
        PLAN_MAP,
        box_at(centre, seen, scale),
        [m.key for m in shown],
        grid_m=segment_for(scale, GRID_MM),
    )
    left, width = 315.0, 95.0
    page.legend((left, 10, width, 165), of_map, lambda tree: _add_entries(tree, shown))
    if any(m.table.name in RINGED for m in shown):
        page.label((left, 186, width, 8), RINGS, points=7)
    page.north((left, 195, 10, 15), of_map)
    page.scale_bar((left + 16, 199, 60, 8), of_map, bar_for(scale))
    page.label((left, 213, width, 12), _systems(contents), points=7)
    page.label((left, 226, width, 16), CAUTION, points=7)
    half = width / 2
    for x, y, wide, high, text, points, bold in (
        (0.0, 244.0, width, 13.0, as_words(contents.name), 11.0, True),
        (0.0, 257.0, width, 10.0, theme_in_words(default), 8.5, True),
        (0.0, 267.0, half, 6.0, _scale_in_words(scale, sheet.name), 7.0, False),
        (half, 267.0, half, 6.0, DATE, 7.0, False),
        *_signed(contents, width),
    ):
        page.label((left + x, y, wide, high), text, points=points, bold=bold, boxed=True)


DRAWN, CHECKED = "Drawn by:", "Checked by:"
DATE = "Date: [% format_date(now(), 'yyyy-MM-dd') %]"
FILE = "File: [% @project_filename %]"
RINGS = "Rings at a borehole are its intervals: the wider, the deeper. Inclined holes draw a trail."
RINGED = ("concentration", "interval_conductivity")  # drawn as a ring for each interval


# left, top, width, height [mm], text, size [points], whether bold
Cell: TypeAlias = tuple[float, float, float, float, str, float, bool]


def _signed(contents: Contents, width: float) -> list[Cell]:
    """Who answers for the map, as [document] says it; else boxes to fill in by hand."""
    said = document_by(contents.settings.get("document") or {}, contents.name)
    if said.is_signed:
        text = as_words("\n".join(said.lines))
        return [(0.0, 273.0, width, 14.0, text, 6.0, False)]
    half = width / 2
    return [
        (0.0, 273.0, half, 8.0, DRAWN, 7.0, False),
        (half, 273.0, half, 8.0, CHECKED, 7.0, False),
        (0.0, 281.0, width, 6.0, FILE, 7.0, False),
    ]


def _foot(contents: Contents) -> list[tuple[float, float, str, float]]:
    """The same at the foot of a borehole's sheet: left, width [mm], text, size [points]."""
    said = document_by(contents.settings.get("document") or {}, contents.name)
    if said.is_signed:
        text = as_words("\n".join(said.lines))
        return [(10.0, 150.0, text, 5.6), (160.0, 40.0, FILE, 5.6)]
    boxes = enumerate((DRAWN, CHECKED, DATE, FILE))
    return [(10 + 47.5 * number, 47.5, text, 7.0) for number, text in boxes]


def as_words(text: str) -> str:
    """A text of the user's, which no GIS takes for an expression."""
    return text.replace("[%", "[ %")


def theme_in_words(default: Default) -> str:
    """What the maps of the project open on."""
    if default.substance is None:
        return "Boreholes"
    height, depth = default.place.get("elevation_m"), default.place.get("depth_m")
    where = [
        f"at elevation {height:g} m" if height is not None else "",
        f"{depth:g} m below ground" if depth is not None else "",
        str(default.place.get("hydro_unit") or ""),
    ]
    told = [default.substance, f"round {default.round}" if default.round else "", "median", *where]
    return as_words(people.translated(", ".join(t for t in told if t)))


def _scale_in_words(scale: float, paper: str) -> str:
    return f"Scale 1:{scale:,.0f} on {paper}".replace(",", " ")


def _systems(contents: Contents) -> str:
    datum = contents.vertical_datum or "not stated"
    heights = f"Elevations of the layers [m]: {datum}"
    return as_words(f"Coordinates: {contents.site.name}\n{heights}\nNorth: grid north")


def _add_entries(tree: Element, shown: Sequence[MapLayer]) -> None:
    for layer in shown:
        entry = SubElement(
            tree, "layer-tree-layer", id=layer.key, name=layer.title, checked="Qt::Checked",
            expanded="1", legend_exp="", providerKey="ogr",
        )  # fmt: skip
        options = SubElement(SubElement(entry, "customproperties"), "Option", type="Map")
        title = {"legend/title-label": layer.title.replace(": ", f":{BREAK}")}
        if len(layer.style.findall("renderer-v2//rule")) == 1:  # it has the same name
            title = {"legend/title-style": "hidden"}
        for name, value in title.items():
            SubElement(options, "Option", name=name, type="QString", value=value)


def _add_sheets(
    listed: Element,
    contents: Contents,
    layers: Sequence[MapLayer],
    shown: Sequence[MapLayer],
    extent: Box,
    file: str,
) -> None:
    sheet = borehole_sheet()
    page, seen = Page(listed, SHEETS, sheet), sheet.place(SHEET_MAP)
    scale = scale_for(extent, (0, 0, NEARER * seen[2], NEARER * seen[3]))
    centre = (extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2
    of_map = page.map(
        SHEET_MAP, box_at(centre, seen, scale), [m.key for m in shown], per_feature=True
    )
    page.label((10, 10, 140, 9), "Borehole [% @atlas_pagename %]", points=16, bold=True)
    page.label((10, 20, 92, 10), as_words(contents.name), points=9)
    page.label((150, 12, 50, 6), "Page [% @atlas_featurenumber %] of [% @atlas_totalfeatures %]",
               right=True)  # fmt: skip
    told = f"{_scale_in_words(scale, sheet.name)}\n{_systems(contents)}"
    page.label((108, 19, 92, 13), told, points=6.5)
    page.label((108, 34, 92, 24), _collar(), points=7)
    page.legend(
        (108, 58, 92, 70), of_map, lambda tree: _add_entries(tree, shown), columns=2, smaller=0.72
    )
    page.ring(SHEET_MAP, RING_MM)
    page.north((91, 36, 9, 13), of_map)
    page.scale_bar((11, 116, 50, 9), of_map, bar_for(scale))
    keys = {m.table.name for m in layers}
    tables = [
        ((10.0, 132.0, 92.0, 134.0), "Lithology", "lithology", LITHOLOGY),
        ((108.0, 132.0, 92.0, 30.0), "Construction", "construction", BUILT),
        ((108.0, 164.0, 92.0, 50.0), "K of the intervals", "interval_conductivity", GROUND),
    ]
    for place, title, table, columns in tables:
        if table in keys:
            _add_table(page, place, title, layer_id(table), f"./{file}|layername={table}", columns)
    sampled = [m for m in shown if m.table.name == "concentration"]
    if sampled:
        source = f"./{file}|layername=concentration|subset={sampled[0].subset}"
        place = (108.0, 216.0, 92.0, 50.0)
        _add_table(page, place, sampled[0].title, sampled[0].key, source, WATER)
    page.label((10, 268, 190, 8), CAUTION, points=6.5)
    for left, width, text, points in _foot(contents):
        page.label((left, 277, width, 10.5), text, points=points, boxed=True)
    page.one_per(layer_id("borehole"), f"./{file}|layername=borehole", "borehole")


TOP, BOTTOM = 'format_number("top_m", 2)', 'format_number("bottom_m", 2)'


def _scientific(column: str) -> str:
    """A small number as an expression for a table: 3.3e-6."""
    exponent = f'floor(log10("{column}"))'
    return f"format_number(\"{column}\" / 10 ^ {exponent}, 1) || 'e' || to_string({exponent})"


def _four_digits(column: str) -> str:
    """A number as an expression for a table, without the digits that only a computer adds."""
    return f'to_string(round("{column}", max(0, 3 - floor(log10("{column}")))))'


K_TEXT = _scientific("k_m_per_s")
K_RANGE = f"{_scientific('k_low_m_per_s')} || ' to ' || {_scientific('k_high_m_per_s')}"
CUT_TEXT = 'if(length("description") > 36, left("description", 34) || \' …\', "description")'
VALUE_TEXT = (
    f"if(\"detected\", {_four_digits('value_ug_per_l')}, '< ' || {_four_digits('limit_ug_per_l')})"
)
LITHOLOGY = {
    TOP: ("Top [m]", 13.0),
    BOTTOM: ("Bottom [m]", 17.0),
    "unit": ("Unit", 21.0),
    CUT_TEXT: ("Description", 37.0),
}
BUILT = {
    TOP: ("Top [m]", 13.0),
    BOTTOM: ("Bottom [m]", 17.0),
    "kind": ("What", 30.0),
    "diameter_mm": ("Diameter [mm]", 28.0),
}
GROUND = {
    "interval": ("Interval", 17.0),
    TOP: ("Top [m]", 13.0),
    BOTTOM: ("Bottom [m]", 17.0),
    K_TEXT: ("K [m/s]", 14.0),
    K_RANGE: ("95 % interval", 26.0),
}
WATER = {
    "interval": ("Interval", 17.0),
    TOP: ("Top [m]", 13.0),
    BOTTOM: ("Bottom [m]", 17.0),
    VALUE_TEXT: (f"Concentration [{shown_unit('ug/L')}]", 40.0),
}


def _collar() -> str:
    lines = (
        ("Easting [m]", "x", 2),
        ("Northing [m]", "y", 2),
        ("Ground [m]", "ground_elevation_m", 2),
        ("Measuring point, above ground [m]", "measuring_point_height_m", 2),
        ("Depth of the hole [m]", "depth_m", 1),
    )
    numbers = [f"{words}: [% {NUMBER.format(column, places)} %]" for words, column, places in lines]
    drilled = "coalesce(format_date(attribute(@atlas_feature, 'drilled_on'), 'yyyy-MM-dd'), '-')"
    remarks = "coalesce(attribute(@atlas_feature, 'remarks'), '-')"
    return "\n".join([*numbers, f"Drilled on: [% {drilled} %]", f"Remarks: [% {remarks} %]"])


def _add_table(
    page: Page,
    place: Place,
    title: str,
    key: str,
    source: str,
    columns: dict[str, tuple[str, float]],
) -> None:
    """A table of the rows of the hole, whose heading says so where not all of them have room."""
    x, y, width, height = place
    room = int(page.sheet.place((x, y, width, height - HEADING_MM))[3] / ROW_MM) - 1
    count = f"aggregate('{key}', 'count', \"borehole\", \"borehole\" = @atlas_pagename)"
    cut = f"[% if({count} > {room}, ': the first {room} of ' || {count}, '') %]"
    page.label((x, y, width, HEADING_MM), title + cut, points=8.5, bold=True)
    below = (x, y + HEADING_MM, width, height - HEADING_MM)
    page.table(below, key, source, columns, ["top_m"], where=OF_HOLE, most=room)
