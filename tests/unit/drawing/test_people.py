"""Units that people read: conversions, names of columns, paper, and what site.toml may say.

Factors: NIST Special Publication 811 (2008), appendix B.8, from memory: foot 0.3048 m and inch
25.4 mm exact, US gallon 3.785412 L, psi 6.894757 kPa, cubic foot 0.02831685 m3, ft/d 3.5278e-6 m/s.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoprofile.drawing import people, theme
from geoprofile.errors import DataErrors
from geoprofile.intake.settings import read_settings
from geoprofile.schema import DERIVED, INPUT
from geoprofile.schema.shown_units import SHOWN_SETTINGS, UNIT_CHOICES
from geoprofile.site import Site

US = Site("works", "EPSG:32632", "local", {"units": {"system": "us"}})
PUBLISHED = {
    ("m", "ft"): 0.3048,
    ("mm", "in"): 25.4,
    ("L", "US gal"): 3.785412,
    ("kPa", "psi"): 6.894757,
    ("m3", "ft3"): 0.02831685,
    ("m2", "ft2"): 0.09290304,
    ("m/s", "ft/d"): 3.527778e-6,
    ("kPa", "bar"): 100.0,
}


@pytest.mark.parametrize(("units", "factor"), PUBLISHED.items())
def test_factors_are_the_published_ones(units: tuple[str, str], factor: float) -> None:
    """One of the unit shown, in the unit stored."""
    shown = people.Shown({units[0]: units[1]})
    assert shown.value(factor, units[0]) == pytest.approx(1.0, rel=2e-7)


def test_every_choice_can_be_converted() -> None:
    """No setting is taken that a sheet could not follow."""
    for choices in UNIT_CHOICES.values():
        for unit in choices[1:]:
            assert unit == choices[0] or (choices[0], unit) in people.PER
            assert unit == choices[0] or unit in people.ENDINGS


def test_a_site_in_feet_reads_feet_psi_and_gallons() -> None:
    """The store's numbers come out in words with their unit; outside, metres again."""
    with people.shown_in(people.shown_of(US)):
        assert people.told(3.048, "m") == "10.00 ft"
        assert people.told(689.4757, "kPa", 0) == "100 psi"
        assert people.told(37.85412, "L", 1) == "10.0 US gal"
        assert people.counted_in(309_365.0, "m3", 273_702.0, 375_663.0) == "11,000,000 ft3"
        assert theme.paper_portrait() == (8.5, 11.0)
    assert people.told(3.048, "m") == "3.05 m"
    assert theme.paper_portrait() == theme.PORTRAIT_IN


def test_one_quantity_may_differ() -> None:
    """Feet, but bar; A4 in spite of it."""
    said = {"system": "us", "pressure": "bar", "paper": "A4"}
    shown = people.shown_of(Site("works", "EPSG:32632", "local", {"units": said}))
    assert (shown.unit("m"), shown.unit("kPa"), shown.paper) == ("ft", "bar", "A4")


def test_columns_change_their_names_with_their_values() -> None:
    """By the end of the name; coordinates, texts and what is empty stay."""
    names = ["borehole", "top_m", "x_m", "purge_l", "inflation_kpa", "k_m_per_s", "volume_m3"]
    row = ("B1", 3.048, 500_000.0, None, 68.94757, 1e-5, 2.831685)
    heads, [found] = people.in_units(names, [row], people.shown_of(US))
    assert heads == [
        "borehole",
        "top_ft",
        "x_m",
        "purge_usgal",
        "inflation_psi",
        "k_m_per_s",
        "volume_ft3",
    ]
    assert found[:4] == ("B1", pytest.approx(10.0), 500_000.0, None)
    assert found[4:] == (pytest.approx(10.0, rel=1e-6), 1e-5, pytest.approx(100.0, rel=1e-6))


@given(st.floats(-1e9, 1e9))
def test_metric_is_as_stored(value: float) -> None:
    """Without [units] nothing changes."""
    assert people.in_units(["top_m"], [(value,)], people.Shown()) == (["top_m"], [(value,)])


def test_columns_are_read_in_the_unit_that_the_schema_gives_them() -> None:
    """What is shown times its unit is what is stored; an amount per litre is no volume."""
    us = people.shown_of(US)
    for column in (c for table in (*INPUT, *DERIVED) for c in table.columns):
        (name,), ((value,),) = people.in_units([column.name], [(1.0,)], us)
        unit = us.unit(column.unit)
        if column.name in people.COORDINATES or unit == column.unit:
            assert (name, value) == (column.name, 1.0)
        else:
            assert name.endswith(people.ENDINGS[unit]), column.name
            assert value * people.PER[column.unit, unit] == pytest.approx(1.0), column.name


def test_site_toml_is_checked(tmp_path: Path) -> None:
    """An unknown key or unit is refused with what may be said; good ones are kept."""
    toml = tmp_path / "site.toml"
    toml.write_text('crs = "EPSG:32632"\n[units]\nsystem = "us"\npressure = "bar"\n')
    assert dict(read_settings(tmp_path).settings["units"]) == {"system": "us", "pressure": "bar"}
    toml.write_text('crs = "EPSG:32632"\n[units]\nlength = "yd"\npresure = "psi"\n')
    with pytest.raises(DataErrors) as caught:
        read_settings(tmp_path)
    told = " ".join(str(p) for p in caught.value.problems)
    assert "'m' or 'ft'" in told
    assert "units.pressure" in told
    assert set(SHOWN_SETTINGS) >= {"system", "paper"}


def test_lengths_in_sentences_follow() -> None:
    """Depths, distances and volumes of ground; speeds, loads by volume and names are neither."""
    with people.shown_in(people.shown_of(US)):
        told = people.translated(
            "MW-5 36.00-36.58 m: 14 at 29 m, 9.1 m off; 15 m³, 1.2e5 of 3,000 m³, "
            "2e-6 m/s, B 3 m2, 30 to 50 µg/m³"
        )
        assert told == (
            "MW-5 118.1-120.0 ft: 14 at 95 ft, 30 ft off; 530 ft³, 4,200,000 of 110,000 ft³, "
            "2e-6 m/s, B 3 m2, 30 to 50 µg/m³"
        )
    assert people.translated("at 29 m in 15 m³") == "at 29 m in 15 m³"


def test_an_axis_in_feet_has_round_feet() -> None:
    """Ticks at whole numbers of feet, which stand where their metres are."""
    with people.shown_in(people.shown_of(US)), theme.sheet((4, 4)) as figure:
        axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
        axes.set_ylim(36.6, 0.0)
        axes.set_ylabel("Depth [m]")
        people.length_axis(axes.yaxis)
        figure.draw_without_rendering()
        assert axes.get_ylabel() == "Depth [ft]"
        for tick in axes.yaxis.get_major_ticks():
            label = tick.label1.get_text()
            assert float(label.replace("\N{MINUS SIGN}", "-")) * 0.3048 == pytest.approx(
                tick.get_loc()
            )
            assert float(label) % 5 == 0


@pytest.mark.parametrize(
    ("value", "digits", "words"),
    [
        (99.97, 2, "100"),
        (999.97, 3, "1000"),
        (1234.5, 2, "1234"),
        (12.0, 3, "12"),
        (0.01234, 2, "0.012"),
        (0.0, 2, "0"),
        (-99.97, 2, "-100"),
        (1.5e-7, 2, "1.5e-07"),
        (float("nan"), 2, "nan"),
        (float("inf"), 2, "inf"),
    ],
)
def test_few_figures_write_no_power_of_ten_for_a_length(value, digits, words):
    """By hand: a whole number keeps all its figures, also where rounding makes one more."""
    assert people.few(value, "m", digits) == words
