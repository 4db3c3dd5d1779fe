"""Laboratory values: what is a value, what is below a limit, what is refused."""

from __future__ import annotations

import math

import pytest

from geoprofile.intake.results import Value, parse_value

# the forms are common practice in laboratory reports, no source


@pytest.mark.parametrize(
    ("text", "beside", "value", "limit", "qualifier"),
    [
        ("12.5", {}, 12.5, None, None),
        ("1.2 J", {}, 1.2, None, "J"),
        ("1.2J", {"limit": 2.0}, 1.2, 2.0, "J"),
        ("3e-2", {}, 0.03, None, None),
        ("5", {"qualifier": "B"}, 5.0, None, "B"),
        ("7 J", {"qualifier": "B"}, 7.0, None, "J B"),
    ],
)
def test_values(text, beside, value, limit, qualifier):
    """A number is detected, with the letters beside it kept."""
    found = parse_value(text, **beside)
    assert found.detected
    assert found.value == value
    assert math.isnan(found.limit) if limit is None else found.limit == limit
    assert found.qualifier == qualifier


@pytest.mark.parametrize(
    ("text", "beside", "limit"),
    [
        ("<0.5", {}, 0.5),
        ("< 0.5", {}, 0.5),
        ("<0.5 U", {}, 0.5),
        ("≤0.5", {}, 0.5),
        ("0.5 U", {}, 0.5),
        ("0.5U", {}, 0.5),
        ("0.5 UJ", {}, 0.5),
        ("0.5", {"qualifier": "U"}, 0.5),
        ("0.5", {"qualifier": "u"}, 0.5),
        ("0.5", {"detected": False}, 0.5),
        ("ND", {"limit": 0.5}, 0.5),
        ("n.d.", {"limit": 0.5}, 0.5),
        ("not detected", {"limit": 0.5}, 0.5),
        ("U", {"limit": 0.5}, 0.5),
        ("<", {"limit": 0.5}, 0.5),
        ("<RL", {"limit": 0.5}, 0.5),
        ("", {"limit": 0.5, "detected": False}, 0.5),
        ("", {"limit": 0.5, "qualifier": "U"}, 0.5),
        ("0", {"limit": 0.5, "detected": False}, 0.5),
        ("2 U", {"limit": 0.5}, 2.0),  # raised limit: it may be present up to 2
        ("<0.5", {"limit": 2.0}, 2.0),
    ],
)
def test_values_not_detected(text, beside, limit):
    """A value below its limit is a flag and a limit, never a number."""
    found = parse_value(text, **beside)
    assert not found.detected
    assert math.isnan(found.value)
    assert found.limit == limit


@pytest.mark.parametrize(
    ("text", "beside", "word"),
    [
        ("ND", {}, "without a limit"),
        ("<", {}, "without a limit"),
        ("U", {}, "without a limit"),
        ("", {}, "no value"),
        (">100", {}, "above the range"),
        ("0", {}, "'0'"),
        ("0", {"limit": 0.5}, "'0'"),
        ("-3", {}, "'-3'"),
        ("<0", {}, "limit of 0"),
        ("ND", {"limit": 0.5, "detected": True}, "flag that says detected"),
        ("<0.5", {"detected": True}, "flag that says detected"),
        ("trace", {}, "'trace'"),
        ("0,5", {}, "'0,5'"),
        ("1.2.3", {}, "'1.2.3'"),
        ("0.5-0.7", {}, "'0.5-0.7'"),
        ("5 mg/L", {}, "'5 mg/L'"),
        ("5 ppb", {}, "'5 ppb'"),
        ("=1+1", {}, "'=1+1'"),
    ],
)
def test_values_refused(text, beside, word):
    """What is no value and no non-detect with a limit is told with its reason."""
    found = parse_value(text, **beside)
    assert not isinstance(found, Value)
    assert word in found[0]


def test_decimal_comma_as_declared():
    """A declared decimal comma holds within flags too."""
    assert parse_value("<0,5", decimal=",").limit == 0.5
    assert not isinstance(parse_value("<0.5", decimal=","), Value)


def test_a_result_file_keeps_no_made_up_number(taken):
    """In the table a non-detect has no value, its limit and the flag."""
    text = "sample,analyte,value,unit,limit\nS1,TCE,ND,ug/L,0.5\nS2,TCE,0.7 J,ug/L,\n"
    frame = taken({"results.csv": text}).tables["result"]
    assert frame["detected"].tolist() == [False, True]
    assert math.isnan(frame["value"].iloc[0])
    assert frame["limit"].iloc[0] == 0.5
    assert frame["qualifier"].tolist() == [None, "J"]
