"""Figure, layer, other software's style, raster and page show one and the same."""

from __future__ import annotations

import html
import itertools
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.colors import to_hex

from geoprofile.drawing import symbols, theme
from geoprofile.drawing.bars import band_index
from geoprofile.drawing.legend import legend
from geoprofile.drawing.levels import PROBABILITY_EDGES, Bandwidth, band_label, levels_of
from geoprofile.drawing.styles import qml, sld, style_of
from geoprofile.drawing.styles.qml import symbols_of
from geoprofile.formats._qml import raster_classes, raster_style
from geoprofile.products.maps.figure_model import line_look
from geoprofile.products.section.figure_legend import EDGE_LINES, unit_styles
from geoprofile.report.markup import bare, number, spoken
from geoprofile.report.section_view import ramp
from geoprofile.report.svg import Colours

sys.path.insert(0, str(Path(__file__).parent))
from sight import COLOUR_BLIND, lightness, linear

SE = "{http://www.opengis.net/se}"
SCALES = {
    "K": Bandwidth("median", "m/s", tuple(levels_of("K", [2e-7, 4e-3], [])), True),
    "TCE": Bandwidth("median", "ug/L", tuple(levels_of("TCE", [3.0, 900.0], [0.5])), True),
}
CHANCES = Bandwidth("probability", "1", PROBABILITY_EDGES, False)


def rows_of(scale, quantity, skip=1):
    """The rows of a layer that holds every band but the last `skip`."""
    ends = [-np.inf, *scale.levels, np.inf]
    return [
        {
            "quantity": quantity,
            "round": None,
            "statistic": scale.statistic,
            "elevation_m": 0.0,
            "lower": low if np.isfinite(low) else None,
            "label": band_label(low, high, scale.unit),
            "class_number": scale.number(low if np.isfinite(low) else None),
            "class_count": scale.count,
        }
        for low, high in list(itertools.pairwise(ends))[: -skip or None]
    ]


@pytest.mark.parametrize("quantity", SCALES)
def test_a_band_has_one_colour_and_one_name_everywhere(quantity):
    """Although the layer holds only some of the bands."""
    scale = SCALES[quantity]
    figure = theme.band_colours(scale, quantity)
    rows = rows_of(scale, quantity)
    labels = [r["label"] for r in rows]
    wanted = dict(zip(labels, figure, strict=False))
    style = style_of("map_band", rows)
    assert {r.title: r.symbol.colour for r in style.rules[0].parts} == wanted
    tree = ElementTree.fromstring(qml(style).split("\n", 1)[1])  # noqa: S314
    props = [p.get("v") for p in tree.iter("prop") if p.get("k") == "color"]
    assert {tuple(map(int, p.split(",")[:3])) for p in props} == {rgb(c) for c in wanted.values()}
    other = ElementTree.fromstring(sld(style).encode())  # noqa: S314
    fills = {e.text for e in other.iter(f"{SE}SvgParameter") if e.get("name") == "fill"}
    assert fills == set(wanted.values())
    raster = {text: colour for _, colour, text in raster_classes(scale, quantity)}
    assert wanted.items() <= raster.items()
    assert all(f'color="{c}"' in raster_style(scale, quantity) for c in wanted.values())
    page = Colours(quantity, scale.levels)
    assert [page.of_band(r) for r in rows] == list(wanted.values())
    assert page.classes(scale.unit) == [(c, text) for text, c in raster.items()]
    told = re.findall(r'fill="(#\w+)"/></svg> ([^<]+)</span>', ramp(quantity, page))
    assert [(c, html.unescape(text)) for c, text in told] == page.classes(scale.unit)
    assert legend_of(scale, figure) == list(reversed(page.classes(scale.unit)))


def legend_of(scale, colours):
    """Colours and words of the boxes in the legend of a sheet, from the top."""
    with theme.sheet((4.0, 3.0)) as figure:
        legend(figure, "", [], bandwidth=scale, colours=colours, shown=set(range(scale.count)))
        [axes] = figure.axes
        boxes = [to_hex(patch.get_facecolor()) for patch in axes.patches]
        words = [text.get_text() for text in axes.texts if text.get_text()]
    return list(zip(boxes, words, strict=True))


@given(st.sampled_from(["ug/L", "m/s", "1"]), st.floats(1e-9, 1e9))
def test_a_value_is_written_alike_in_the_page_and_on_a_sheet(unit, value):
    """Read aloud, in a drawing and in a table: the same figures, in powers of ten alike."""
    sheet = symbols.tidy(float(f"{value:.3g}"), unit)
    assert spoken(value, unit) == bare(value, unit=unit) == sheet
    table = number(value, unit=unit)
    assert ("<sup>" in table) == ("e" in sheet)
    plain = table.replace("×10<sup>", "e").replace("</sup>", "").replace("−", "-")
    assert float(plain.replace(",", "")) == pytest.approx(float(sheet), rel=0.06)


def rgb(colour):
    """Three numbers of #rrggbb."""
    return tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))


@pytest.mark.parametrize("quantity", SCALES)
def test_a_measured_value_has_the_colour_of_its_band(quantity):
    """In the figure, in the layer of intervals and in the page, on the levels too."""
    scale = SCALES[quantity]
    column = {"K": "k_m_per_s", "TCE": "value_ug_per_l"}[quantity]
    table = {"K": "interval_conductivity", "TCE": "concentration"}[quantity]
    values = [v for v in (2e-7, 1e-6, 5e-5, 4e-3, 3.0, 10.0, 900.0) if (v < 1) == (quantity == "K")]
    rows = [{column: v, "round": None, "analyte": quantity} for v in values]
    if quantity == "TCE":
        rows.append({column: None, "limit_ug_per_l": 0.5, "round": None, "analyte": "TCE"})
    rules = style_of(table, rows).rules
    rules = rules[0].parts or rules
    page = Colours(quantity, scale.levels)
    for value in values:
        mine = theme.band_colours(scale, quantity)[band_index(value, scale.levels)]
        layer = [r.symbol.colour for r in rules if holds(r, value)]
        assert layer == [mine] == [page.at(value)]


def holds(rule, value):
    """Whether a class holds a value."""
    tests = {">=": lambda end: value >= end, "<": lambda end: value < end, "=": lambda end: False}
    return all(tests[c.sign](c.value) for c in rule.conditions)


def test_below_the_limit_is_hardly_coloured():
    """The same in all, and nearer to paper than the lightest class of what was found."""
    scale = SCALES["TCE"]
    first, second = theme.band_colours(scale, "TCE")[:2]
    assert first == symbols.BELOW == Colours("TCE", scale.levels).of_band(rows_of(scale, "TCE")[0])
    light = lightness(linear([symbols.PAPER, first, second]))
    assert light[0] - light[1] < 4  # hardly told from paper
    assert light[1] - light[2] > 4


@pytest.mark.parametrize(
    ("scale", "quantity"), [*((s, q) for q, s in SCALES.items()), (CHANCES, "TCE")]
)
def test_classes_darken_for_everybody(scale, quantity):
    """In grey and to colour-blind eyes (Machado and others 2009) the order holds."""
    colours = list(dict.fromkeys(theme.band_colours(scale, quantity)))
    assert np.diff(lightness(linear(colours))).max() < -2.0
    for matrix in COLOUR_BLIND.values():
        seen = np.clip(linear(colours) @ np.array(matrix).T, 0, 1)
        assert np.diff(lightness(seen)).max() < -1.0


def test_the_edge_of_half_is_the_strongest_everywhere():
    """One dash for a probability in map, section, layer, other software and page."""
    lines = symbols.PROBABILITY_LINES
    assert max(lines, key=lambda p: lines[p].width_mm) == 0.5
    assert len({line.dashes for line in lines.values()}) == len(lines)
    style = style_of("plume_extent", [{"analyte": "TCE", "round": None, "surface": "any depth"}])
    drawn = {r.conditions[0].value: r.symbol for r in (style.rules[0].parts or style.rules)}
    for probability, line in lines.items():
        assert line_look(probability) == EDGE_LINES[probability]
        assert line_look(probability)["linestyle"] == (
            (0.0, line.dashes) if line.dashes else "solid"
        )
        symbol = drawn[probability]
        assert symbol.width_mm == line.width_mm
        assert symbols.DASHES[symbol.dash] == line.dashes
    mm = {";".join(f"{d:g}" for d in line.dashes_mm) for line in lines.values() if line.dashes}
    assert mm == set(re.findall(r'k="customdash" v="([^"]+)"', qml(style)))
    px = re.findall(r'name="stroke-dasharray">([^<]+)<', sld(style))
    wanted = [line.dashes_mm for line in lines.values() if line.dashes]
    assert [[float(d) * 0.28 for d in p.split()] for p in px] == [
        pytest.approx(w, abs=0.01) for w in wanted
    ]


def test_neighbouring_units_differ_in_grey_and_in_pattern():
    """A unit and the next one below differ in lightness by 5 or more, and in hatch."""
    looks = list(symbols.LOGGED)
    light = lightness(linear([look.colour for look in looks]))
    assert np.abs(np.diff(light)).min() > 5
    assert len({look.hatch for look in looks}) == len(looks)
    names = [f"u{i}" for i in range(12)]
    assert [s["facecolor"] for s in unit_styles(names).values()] == [
        symbols.logged_looks(names)[n].colour for n in names
    ]


def test_units_come_in_the_order_of_the_ground():
    """Not in that of the alphabet, and dipping layers do not confuse it."""
    logs = [("sand", "A", 0.0), ("clay", "A", 30.0), ("basalt", "A", 40.0)]
    logs += [("clay", "B", 0.0), ("basalt", "B", 5.0), ("clay", "C", 1.0), ("alum shale", "C", 2.0)]
    logs += [("basalt", "C", 1.5)]
    assert symbols.stratigraphic(logs) == ["sand", "clay", "basalt", "alum shale"]
    assert symbols.stratigraphic([]) == []


@given(st.sampled_from(["ug/L", "m/s", "g/m2/d"]), st.floats(1e-9, 1e6), st.floats(1.1, 1e3))
def test_words_of_classes_hold_no_raw_unit(unit, low, factor):
    """µg/L everywhere, and the number that is written is the number that is meant."""
    text = symbols.class_words(low, low * factor, unit)
    assert "ug" not in text
    assert "m2" not in text
    assert float(text.split()[0]) == pytest.approx(low, rel=6e-3)


def test_every_heading_of_a_layer_writes_units_as_people_do():
    """Aliases say µg/L, m² and °."""
    from geoprofile.schema import TABLES

    for table in TABLES:
        for text in style_of(table).aliases.values():
            assert not re.search(r"\[(ug/L|m2|m3|m2/s|g/m2/d|degC|deg)\]", text)


def test_the_symbols_are_frozen():
    """No drawing can change the look of another."""
    with pytest.raises(TypeError):
        symbols.PROBABILITY_LINES[0.5] = symbols.Line(9.0)
    assert list(symbols_of(style_of("area").rules))
