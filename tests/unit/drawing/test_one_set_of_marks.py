"""Areas, lines of ground and water, grades and proposals look alike in figure, GIS and page."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from geoprofile.drawing import marks, theme
from geoprofile.drawing.map_frame import AREA_LOOKS
from geoprofile.drawing.people import Shown, shown_in
from geoprofile.drawing.styles import qml, style_of
from geoprofile.drawing.symbols import DASHES, PAPER, PROPOSED
from geoprofile.drawing.theme import LETTER_IN, paper_landscape, paper_portrait
from geoprofile.portfolio import facts, package
from geoprofile.portfolio.page import page
from geoprofile.products.maps.blanks import Blank
from geoprofile.products.maps.figure_model import draw_blanks
from geoprofile.products.maps.tables import BLANK_REASONS
from geoprofile.products.profile.figure import GRADE_FILL
from geoprofile.products.section.figure_legend import CONTACT_LINE, GROUND_LOOK, WATER_LOOK
from geoprofile.products.soil_gas.tables import GAS_BLANK_REASONS
from geoprofile.report.marks_style import (
    AREA_CLASSES,
    UNDERLAID,
    assumed_key,
    marks_style,
    patterns,
)
from geoprofile.schema.finding import SEVERITIES

sys.path.insert(0, str(Path(__file__).parent))
from sight import lightness, linear

PX = 96 / 25.4


def rule_of(name):
    """What the page says of a class."""
    found = re.search(rf"(?:^|}}){re.escape(name)}{{([^}}]*)}}", marks_style())
    return dict(part.split(":", 1) for part in found.group(1).split(";"))


@pytest.mark.parametrize("kind", marks.AREAS)
def test_an_area_has_one_look(kind):
    """Edge, dashes and crossing."""
    look = marks.AREAS[kind]
    rows = [{"kind": k, "name": k} for k in marks.AREAS]
    layer = {r.title: r.symbol for r in style_of("area", rows).rules}[kind]
    page, figure = rule_of(f".area.{AREA_CLASSES[kind]}"), AREA_LOOKS[kind]
    assert figure["edgecolor"] == layer.outline == page["stroke"] == look.edge.colour
    assert layer.width_mm == look.edge.width_mm
    assert figure["linewidth"] == pytest.approx(look.edge.width_mm * 72 / 25.4, abs=0.01)
    assert float(page["stroke-width"]) == pytest.approx(look.edge.width_mm * PX, abs=0.01)
    assert ("hatch" in figure) == layer.crossed == (page["fill"] == "url(#crossed)")
    assert (figure["linestyle"] == "solid") == (page["stroke-dasharray"] == "none")
    assert DASHES[layer.dash] == look.edge.line.dashes


def test_ground_of_assumed_shape_has_one_look():
    """Rings of one colour, with the same words beside them, in figure and page."""
    assert set(theme.ASSUMED["hatch"]) == {"o"}
    assert rule_of(".assumed")["fill"] == "url(#rings)"
    assert f'<circle fill="none" stroke="{theme.ASSUMED["edgecolor"]}"' in patterns()
    assert " ".join(theme.ASSUMED_WORDS.split()) == marks.ASSUMED_WORDS
    assert marks.ASSUMED_WORDS in assumed_key()


@pytest.mark.parametrize(
    ("table", "reasons"), [("map_blank", BLANK_REASONS), ("soil_gas_blank", GAS_BLANK_REASONS)]
)
def test_ground_without_a_map_has_one_look_for_each_reason(table, reasons):
    """The lines of the figure run as those of the layer, and no two reasons look alike."""
    axes = Figure().add_subplot()
    boxes = (shapely.MultiPolygon([shapely.box(i, 0, i + 1, 1)]) for i in range(len(reasons)))
    blanks = [Blank(r, None, None, box) for r, box in zip(reasons, boxes, strict=True)]
    draw_blanks(axes, blanks)
    figure = {r: p.get_hatch()[0] for r, p in zip(reasons, axes.patches, strict=True)}
    rules = style_of(table, [{"reason": r} for r in reasons]).rules
    layer = {r.title: r.symbol for r in (rules[0].parts or rules)}
    letters = {"-": (0, False), "/": (45, False), "|": (90, False), "\\": (135, False)}
    letters |= {"+": (0, True), "x": (45, True)}
    assert {r: letters[h] for r, h in figure.items()} == {
        r: (layer[r].hatch_deg, layer[r].crossed) for r in reasons
    }
    assert len(set(figure.values())) == len(reasons)
    assert {layer[r].colour for r in reasons} == {to_hex(p.get_edgecolor()) for p in axes.patches}


def test_an_area_closed_to_drilling_is_crossed_out_in_the_gis():
    """Two sets of lines at right angles."""
    text = qml(style_of("area", [{"kind": "no drilling", "name": "cable"}]))
    angles = re.findall(r'k="angle" v="([\d.]+)"', text)
    assert {float(a) for a in angles} >= {45.0, 135.0}


@pytest.mark.parametrize(
    ("surface", "figure", "name"),
    [
        ("ground", GROUND_LOOK, ".ground"),
        ("water level", WATER_LOOK, ".water"),
        ("top of unit", CONTACT_LINE, ".unit"),
    ],
)
def test_lines_of_a_section_have_one_look(surface, figure, name):
    """Colour, width and dashes."""
    rows = [{"surface": s} for s in ("ground", "water level", "top of unit")]
    layer = {r.title: r.symbol for r in style_of("section_surface", rows).rules}[surface]
    page = rule_of(name)
    assert layer.colour == figure["color"] == page["stroke"]
    assert figure["linewidth"] == pytest.approx(layer.width_mm * 72 / 25.4, abs=0.01)
    assert float(page["stroke-width"]) == pytest.approx(layer.width_mm * PX, abs=0.01)
    assert (layer.dash == "solid") == (page["stroke-dasharray"] == "none")
    underlaid = name.removeprefix(".") in UNDERLAID
    assert underlaid == (surface != "ground") == (layer.outline == PAPER)
    if underlaid:
        below = rule_of(f".under-{name.removeprefix('.')}")
        assert below["stroke"] == PAPER
        wide = (layer.width_mm + marks.UNDER_MM) * PX
        assert float(below["stroke-width"]) == pytest.approx(wide, abs=0.02)


def test_grades_and_proposals_have_one_colour():
    """In the profile, on the map of the GIS and in the page."""
    rows = [{"grade": g} for g in marks.GRADES]
    layer = {r.title: r.symbol.colour for r in style_of("conductivity", rows).rules}
    assert layer == dict(GRADE_FILL) == dict(marks.GRADES)
    assert rule_of(".proposed")["fill"] == PROPOSED
    assert style_of("next_borehole", [{}]).rules[0].symbol.colour == PROPOSED


def test_a_site_has_one_mark_on_the_page_and_on_the_map_of_all_sites():
    """Every state and every severity of the schema; the graver, the darker, in grey too."""
    rules = {r.title: r for r in package.style().rules}
    kinds = [("failed", None), ("not computed", None)]
    kinds += [("finished", severity) for severity in (*SEVERITIES, None)]
    row = dict.fromkeys(c.name for c in facts.SITES.columns) | {"site": "S", "urgency": 1}
    row["volume_m3"] = 213_456.0
    found = []
    for state, severity in kinds:
        said = row | {"state": state, "worst_severity": severity}
        [name] = [t for t, rule in rules.items() if all(met(c, said) for c in rule.conditions)]
        drawn = page([said], [])
        symbol = rules[name].symbol
        assert f'aria-label="{name}"' in drawn
        assert ">210,000<" in drawn  # as the report says it
        assert f'fill="{symbol.colour}"' in drawn
        assert {"circle": "<circle", "square": "<rect", "triangle": "<path"}[symbol.form] in drawn
        found.append(symbol)
    assert len({(s.colour, s.form) for s in found}) == len(kinds)
    assert np.diff(lightness(linear([s.colour for s in found[2:]]))).min() > 10


def met(condition, row):
    """Whether a row meets a condition of equality."""
    return condition.sign == "=" and row[condition.column] == condition.value


def test_sheets_take_the_paper_that_is_asked_for():
    """US Letter is 8.5 by 11 inches, across or upright (ANSI/ASME Y14.1, size A)."""
    with shown_in(Shown(paper="US Letter")):
        assert paper_portrait() == LETTER_IN == (8.5, 11.0)
        assert paper_landscape() == (11.0, 8.5)
    assert paper_landscape() == pytest.approx((11.69, 8.27), abs=0.01)


def test_units_are_written_in_one_place():
    """No drawing, layer or page spells a microgram of its own; it asks how a unit is written."""
    import geoprofile

    root = Path(geoprofile.__file__).parent
    rooms = ("drawing", "report", "products", "gisproject", "portfolio", "formats", "handover")
    spelt = [
        f"{path.relative_to(root)}: {line.strip()}"
        for room in rooms
        for path in sorted((root / room).rglob("*.py"))
        if path != root / "drawing" / "symbols.py"
        for line in re.sub(r'""".*?"""', "", path.read_text("utf-8"), flags=re.S).splitlines()
        if "µ" in line
    ]
    assert spelt == []
