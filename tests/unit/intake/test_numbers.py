"""Numbers as people write them: what is read, and what is refused until somebody says which."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.intake.numbers import number, why_no_number

# 1 ft is 12 in (1959 agreement); the marks are common practice, no source
READ = [
    ("20' 6\"", ".", "", "ft", 20.5),
    ("20'6\"", ".", "", "in", 246.0),
    ("20\u2032 6\u00bd\u2033", ".", "", "ft", 20 + 6.5 / 12),
    ("20 ft 6 in", ".", "", "ft", 20.5),
    ("-2' 6\"", ".", "", "ft", -2.5),
    ("5 7/8", ".", "", "in", 5.875),
    ('5-7/8"', ".", "", "in", 5.875),
    ("5\u215e", ".", "", "in", 5.875),
    ('6"', ".", "", "ft", 0.5),
    ("1,258", ".", ",", "", 1258.0),
    ("1,258.5", ".", ",", "", 1258.5),
    ("1,258", ",", "none", "", 1.258),
    ("1.258,5", ",", ".", "", 1258.5),
    ("1 258,5", ",", " ", "", 1258.5),
    ("1\u2009258", ".", " ", "", 1258.0),
    ("1'258.3", ".", "'", "", 1258.3),
    ("0,258", ",", "", "", 0.258),
    ("12,5", ",", "", "", 12.5),
    ("500010,125", ",", "", "", 500010.125),
    ("1.258", ".", "", "", 1.258),
]
REFUSED = [
    ("1,258", ".", "", "", ("thousands", "decimal", "1258 or 1.258")),
    ("1,258", ",", "", "", ("thousands", "decimal", "1258 or 1.258")),
    ("12,345,678", ".", "", "", ("thousands",)),
    ("1,258.5", ".", "", "", ('thousands = ","',)),
    ("1.258,5", ".", "", "", ('thousands = "."', 'decimal = ","')),
    ("1 258", ".", "", "", ('thousands = " "',)),
    ("12,5", ".", "", "", ('decimal = ","',)),
    ("12,58", ".", ",", "", ("12,58",)),
    ("20' 6\"", ".", "", "m", ("top_ft",)),
    ("5 7/8", ".", "", "mm", ("diameter_in",)),
    ("1/0", ".", "", "in", ("1/0",)),
    ("dry", ".", "", "m", ("missing",)),
]


@pytest.mark.parametrize(("text", "decimal", "thousands", "unit", "value"), READ)
def test_a_number_is_read_as_it_was_meant(text, decimal, thousands, unit, value):
    """In the unit of its column."""
    assert number(text, decimal, thousands, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "decimal", "thousands", "unit", "words"), REFUSED)
def test_a_doubtful_number_is_refused_with_the_key(text, decimal, thousands, unit, words):
    """The message names what repairs it."""
    assert math.isnan(number(text, decimal, thousands, unit))
    told = " ".join(why_no_number(text, decimal, thousands, unit))
    assert all(w in told for w in words), told


@settings(deadline=None)
@given(st.integers(1, 999), st.integers(0, 999), st.sampled_from([".", ","]))
def test_three_digits_after_a_comma_are_never_guessed(first, last, decimal):
    """Without a word about thousands, in whatever way decimals are marked."""
    assert math.isnan(number(f"{first},{last:03d}", decimal))


@settings(deadline=None)
@given(st.floats(0, 1e9, allow_nan=False), st.integers(0, 6))
def test_thousands_marks_change_no_number(value, places):
    """Written with marks and without is the same, in both traditions."""
    plain = round(value, places)
    english = f"{plain:,.{places}f}"
    german = english.translate(str.maketrans(",.", ".,"))
    assert number(english, ".", ",") == pytest.approx(plain, rel=1e-12)
    assert number(german, ",", ".") == pytest.approx(plain, rel=1e-12)


@settings(deadline=None)
@given(st.integers(0, 500), st.integers(0, 11), st.integers(0, 15))
def test_feet_and_inches_add_up(feet, inches, sixteenths):
    """Feet, inches and sixteenths in feet, and the same in inches."""
    text = f"{feet}' {inches} {sixteenths}/16\""
    total = feet * 12 + inches + sixteenths / 16
    assert number(text, ".", "", "in") == pytest.approx(total, rel=1e-12)
    assert number(text, ".", "", "ft") == pytest.approx(total / 12, rel=1e-12)
