"""Units at the border: conversions against definitions, and spellings of concentration."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pint
import pytest

from geoprofile.errors import DataError
from geoprofile.schema import INPUT
from geoprofile.units import MULTIPLES, SUFFIXES, SYMBOLS, concentration_unit, convert, to_ug_per_l


@pytest.mark.parametrize(
    ("value", "from_suffix", "to_suffix", "expected"),
    [
        # exact by definition: international yard and pound agreement (1959); NIST SP 811, app. B
        (1.0, "ft", "m", 0.3048),
        (1.0, "in", "mm", 25.4),
        (3937.0, "usft", "m", 1200.0),
        (1.0, "usgal", "l", 3.785411784),
        (1.0, "impgal", "l", 4.54609),
        (1.0, "usgal_min", "l_min", 3.785411784),
        (1.0, "bar", "kpa", 100.0),
        (1013.25, "hpa", "kpa", 101.325),
        (1.0, "h", "s", 3600.0),
        (200.0, "gon", "deg", 180.0),
        (50.0, "f", "c", 10.0),
        (283.15, "k", "c", 10.0),
        (1.0, "cm_per_s", "m_per_s", 0.01),
        (1.0, "per_kpa", "per_pa", 0.001),
        (1.0, "mg_per_l", "ug_per_l", 1000.0),
        (1.0, "ug_per_m3", "ug_per_l", 0.001),
        (1.0, "m3_h", "l_min", 1000 / 60),
    ],
)
def test_conversions_follow_the_definitions(value, from_suffix, to_suffix, expected):
    """Every factor is that of the definition, to rounding."""
    assert convert(value, from_suffix, to_suffix) == pytest.approx(expected, rel=1e-14)


def test_metric_units_are_those_of_a_library():
    """Every pair that the table converts: the very number that pint's exact fractions give."""
    quantity = pint.UnitRegistry(non_int_type=Fraction).Quantity
    names = {pint_name: suffix for suffix, pint_name in SUFFIXES.items()}
    for one, (kind, _) in MULTIPLES.items():
        for other in (o for o, (same, _) in MULTIPLES.items() if same == kind):
            found = convert(1.0, names[one], names[other])
            assert found == float(quantity(1, one).to(other).magnitude), (one, other)


def test_concentrations_are_those_of_a_library():
    """Mass per volume in every prefix."""
    quantity = pint.UnitRegistry(non_int_type=Fraction).Quantity
    for mass in ("g", "kg", "mg", "microgram", "ng", "pg"):
        for volume in ("L", "mL", "dL", "m**3", "cm**3", "dm**3"):
            exact = float(quantity(1, f"{mass}/{volume}").to("microgram/liter").magnitude)
            unit = f"{mass.replace('microgram', 'ug')}/{volume.replace('**', '')}"
            assert to_ug_per_l(1.0, unit) == exact


def test_pound_per_square_inch():
    """1 psi is 6.894757 kPa (NIST SP 811, appendix B.8, 7 digits)."""
    assert convert(1.0, "psi", "kpa") == pytest.approx(6.894757, rel=1e-7)


def test_survey_foot_is_not_the_foot():
    """At a false easting of 1 500 km the two feet differ by 3 m (2 parts in a million)."""
    feet = 1_500_000 / 0.3048
    gap = convert(feet, "usft", "m") - convert(feet, "ft", "m")
    assert gap == pytest.approx(3.0, rel=1e-3)


def test_missing_stays_missing_and_the_input_unchanged():
    """NaN stays NaN, and the array given is not written to."""
    given = np.array([1.0, np.nan])
    assert np.isnan(convert(given, "ft", "m")[1])
    assert given[0] == 1.0


def test_there_and_back_is_the_same():
    """Converting there and back changes nothing beyond rounding."""
    for a in SUFFIXES:
        for b in SYMBOLS.values():
            try:
                there = convert(12.5, a, b)
            except DataError:
                continue
            assert convert(there, b, a) == pytest.approx(12.5, rel=1e-12), (a, b)


def test_units_of_another_kind_are_refused():
    """A length is no pressure."""
    with pytest.raises(DataError):
        convert(1.0, "ft", "kpa")


def test_every_unit_of_the_schema_is_known():
    """Each unit of an input table's column can be converted to, or needs no conversion."""
    units = {c.unit for t in INPUT for c in t.columns} - {"", "1"}
    assert units <= set(SYMBOLS)


@pytest.mark.parametrize(
    ("text", "spelling"),
    [
        ("ug/l", "ug/L"),
        ("µg/L", "ug/L"),
        ("μg/L", "ug/L"),
        ("MG/L", "mg/L"),
        ("mg / l", "mg/L"),
        ("mcg/L", "ug/L"),
        ("ng per L", "ng/L"),
        ("ug/m^3", "ug/m3"),
        ("mg/m³", "mg/m3"),
        ("ppb", None),
        ("ug/kg", None),
        ("ug", None),
        ("", None),
        ("furlong", None),
    ],
)
def test_spellings_of_concentration(text, spelling):
    """Common spellings give one; what is no mass per volume gives none."""
    assert concentration_unit(text) == spelling


@pytest.mark.parametrize(
    ("unit", "factor"), [("ug/L", 1), ("mg/L", 1e3), ("ng/L", 1e-3), ("mg/m3", 1), ("g/mL", 1e9)]
)
def test_concentrations_in_micrograms_per_litre(unit, factor):
    """Prefixes and volumes multiply as they should."""
    assert to_ug_per_l(2.0, unit) == pytest.approx(2 * factor, rel=1e-14)


def test_unknown_concentration_is_refused_with_advice():
    """Ppb does not say of what; the advice is to ask the laboratory."""
    with pytest.raises(DataError, match="laboratory"):
        to_ug_per_l(1.0, "ppb")
