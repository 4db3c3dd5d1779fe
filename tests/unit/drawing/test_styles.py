"""Styles: one model, two forms that say the same, colours that everybody can tell apart."""

from __future__ import annotations

import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from geoprofile.drawing.styles import needed_columns, qml, sld, style_of
from geoprofile.drawing.styles.catalogue import OWN
from geoprofile.drawing.styles.colours import CHANCE, GROUND, PLUME
from geoprofile.drawing.styles.qml import expression, symbols_of
from geoprofile.drawing.styles.sld import leaves
from geoprofile.schema import TABLES

sys.path.insert(0, str(Path(__file__).parent))
from sight import COLOUR_BLIND, lightness, linear

SE = "{http://www.opengis.net/se}"


def bands():
    """Rows of two quantities, two statistics and three elevations."""
    return [
        {
            "quantity": quantity,
            "round": "r1",
            "statistic": statistic,
            "elevation_m": elevation,
            "lower": lower,
            "label": label,
        }
        for quantity in ("TCE", "K")
        for statistic in ("median", "probability")
        for elevation in (-5.0, -15.0, -25.0)
        for lower, label in ((3.0, "3 to 10"), (None, "under 1"), (1.0, "1 to 3"))
    ]


@pytest.mark.parametrize("ramp", [GROUND, PLUME, CHANCE], ids=["ground", "plume", "chance"])
@pytest.mark.parametrize("count", [2, 5, 9])
def test_a_ramp_darkens_evenly(ramp, count):
    """In grey, each class is darker than the one before by a like step."""
    steps = -np.diff(lightness(linear(ramp.colours(count))))
    assert steps.min() > 0
    assert steps.max() / steps.min() < 2.0  # OKLab and L* are not quite the same scale


@pytest.mark.parametrize("ramp", [GROUND, PLUME, CHANCE], ids=["ground", "plume", "chance"])
@pytest.mark.parametrize("sight", list(COLOUR_BLIND))
def test_a_ramp_stays_in_order_to_colour_blind_eyes(ramp, sight):
    """Every class stays darker than the one before."""
    seen = np.clip(linear(ramp.colours(7)) @ np.array(COLOUR_BLIND[sight]).T, 0, 1)
    assert np.diff(lightness(seen)).max() < -2.0  # L* of 2 can be told apart side by side


def test_every_layer_with_shapes_has_a_look():
    """No layer opens in a colour that a GIS drew by lot."""
    assert {t.name for t in TABLES.values() if t.geometry} == set(OWN)


@pytest.mark.parametrize("table", list(TABLES))
def test_both_forms_are_well_formed_and_agree(table):
    """QML has one symbol per rule, SLD the same rules; aliases carry units."""
    rows = bands() if table == "map_band" else ()
    style = style_of(table, rows)
    tree = ElementTree.fromstring(qml(style).split("\n", 1)[1])  # noqa: S314
    drawn = [r for r in tree.iter("rule") if r.get("symbol")]
    assert [r.get("symbol") for r in drawn] == [str(n) for n in range(len(drawn))]
    assert len(tree.findall("renderer-v2/symbols/symbol")) == len(drawn)
    assert len(drawn) == len(list(symbols_of(style.rules)))
    assert len(tree.findall("aliases/alias")) == len(TABLES[table].columns)
    if style.shape is not None:
        other = ElementTree.fromstring(sld(style).encode())  # noqa: S314
        titles = [r.findtext(f"{SE}Name") for r in other.iter(f"{SE}Rule")]
        labels = ["labels"] if style.label else []
        assert titles == [title for title, _, _ in leaves(style.rules)] + labels


def test_a_layer_of_many_maps_opens_as_one():
    """Only the map at the middle elevation of the first quantity and statistic is ticked."""
    rules = style_of("map_band", bands()).rules
    assert [r.title for r in rules if r.shown] == ["TCE, r1, median, -15 m"]
    assert len(rules) == 12


def test_bands_run_from_low_to_high():
    """The band without a lower end comes first, and colours darken upwards."""
    parts = style_of("map_band", bands()).rules[0].parts
    assert [p.title for p in parts] == ["under 1", "1 to 3", "3 to 10"]
    assert np.all(np.diff(lightness(linear([p.symbol.colour for p in parts]))) < 0)


def test_every_value_falls_into_one_class():
    """A value on an edge belongs to the class that begins there."""
    rows = [{"k_m_per_s": v} for v in (1e-6, 3e-6, 1e-5, 2.9e-5)]
    rules = style_of("interval_conductivity", rows).rules
    for row in rows:
        hits = [r for r in rules if inside(r, row["k_m_per_s"])]
        assert len(hits) == 1


def inside(rule, value):
    tests = {">=": lambda end: value >= end, "<": lambda end: value < end, "=": lambda end: False}
    return all(tests[c.sign](c.value) for c in rule.conditions)


def test_text_from_the_data_cannot_leave_its_quotes():
    """A quote in a name stays inside the expression, and markup inside the text."""
    name = "a' OR 1=1 --<b>&"
    style = style_of("concentration", [{"round": name, "analyte": "x", "value_ug_per_l": 1.0}])
    text = expression(style.rules[0].conditions)
    assert "'a'' OR 1=1 --<b>&'" in text
    ElementTree.fromstring(qml(style).split("\n", 1)[1])  # noqa: S314
    ElementTree.fromstring(sld(style).encode())  # noqa: S314


def test_a_style_asks_only_for_columns_that_exist():
    """What the store reads for a style is in the schema."""
    for table in TABLES:
        assert set(needed_columns(table)) <= {c.name for c in TABLES[table].columns}


def test_the_same_rows_give_the_same_text():
    """Styles are deterministic."""
    assert qml(style_of("map_band", bands())) == qml(style_of("map_band", bands()))
