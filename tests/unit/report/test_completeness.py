"""What a report of a test holds by the scope of ISO 22282, on tests that lack one thing each."""

from dataclasses import replace

import pytest

from geoprofile.report.completeness import CLOSED, GENERAL, OPEN, PRESSURE, Facts, missing

STEP = {"flow_l_min": 2.0, "minutes": 10.0, "zone_head_m": None, "gauge_pressure_kpa": 100.0,
        "gauge_height_m": 1.0}  # fmt: skip
WHOLE = Facts(
    test={
        "kind": "constant head", "started_at": "2031-05-01T08:00:00Z", "water_temperature_c": 10.0,
        "blank_leak_l_min": 0.0, "riser_diameter_mm": 50.0, "expected_displacement_m": 0.7,
        "shut_in_volume_l": 30.0, "system_compressibility_per_pa": 1e-9,
    },
    zone={"top_m": 20.0, "bottom_m": 25.0, "static_depth_m": 6.0, "development": "some",
          "inflation_kpa": 900.0},
    hole={"x": 1.0, "y": 2.0}, steps=(STEP,) * 5, readings=True, fitted={"k_m_per_s": 1e-6},
    built=True, logged=True, equipped=True,
)  # fmt: skip


def of_kind(kind: str) -> Facts:
    """The whole record, of another kind of test."""
    return replace(WHOLE, test={**WHOLE.test, "kind": kind})


@pytest.mark.parametrize("kind", ["constant head", "falling head", "rising head", "pressure pulse"])
def test_nothing_is_missing_from_a_whole_record(kind: str) -> None:
    """Zero is a value: a leak of none was looked for."""
    asked, lost = missing(of_kind(kind))
    assert lost == {}
    assert asked >= 12


@pytest.mark.parametrize(
    ("facts", "part", "what"),
    [
        (replace(WHOLE, steps=(STEP,) * 3), PRESSURE, "pressure steps up and down again"),
        (replace(WHOLE, steps=({**STEP, "minutes": None},) * 5), PRESSURE,
         "flow and duration of every step"),
        (replace(WHOLE, equipped=False), PRESSURE, "packer and its limits"),
        (replace(WHOLE, logged=False), GENERAL, "ground of the test section"),
        (replace(of_kind("falling head"), readings=False), OPEN, "level against time"),
        (replace(of_kind("pressure pulse"), readings=False), CLOSED, "pressure against time"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named_with_its_part(facts: Facts, part: str, what: str) -> None:
    """One thing taken away, one thing told."""
    assert missing(facts)[1] == {part: [what]}


def test_a_transducer_in_the_zone_needs_no_gauge() -> None:
    """Head read in the zone stands for pressure and height of a gauge."""
    inside = {**STEP, "zone_head_m": 10.0, "gauge_pressure_kpa": None, "gauge_height_m": None}
    assert missing(replace(WHOLE, steps=(inside,) * 5))[1] == {}
