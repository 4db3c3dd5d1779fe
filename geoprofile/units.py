"""Units at the border: another unit in a header or a unit column, turned into the schema's own.

The arithmetic is pint's, with exact fractions; `ft` is the international foot (0.3048 m exactly),
`usft` the US survey foot (1200/3937 m). Metric units, and those of feet and US gallons, which are
whole multiples of them, need no such library, which takes a second to start.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataError

if TYPE_CHECKING:  # names of units are read where no numbers are, and numpy takes its time
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

# suffix of a header -> unit as pint writes it. A bare gallon is left out: it has two sizes.
# A column of water is the conventional one of 1000 kg/m3.
SUFFIXES = {
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "km": "kilometer",
    "ft": "foot",
    "usft": "survey_foot",
    "in": "inch",
    "yd": "yard",
    "pa": "pascal",
    "hpa": "hectopascal",
    "kpa": "kilopascal",
    "mpa": "megapascal",
    "bar": "bar",
    "mbar": "millibar",
    "psi": "psi",
    "mh2o": "meter_H2O",
    "cmh2o": "centimeter_H2O",
    "fth2o": "foot_H2O",
    "inhg": "inch_Hg",
    "mmhg": "millimeter_Hg",
    "s": "second",
    "ms": "millisecond",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "l": "liter",
    "ml": "milliliter",
    "m3": "meter**3",
    "usgal": "gallon",
    "impgal": "imperial_gallon",
    "l_min": "liter/minute",
    "l_s": "liter/second",
    "l_h": "liter/hour",
    "ml_min": "milliliter/minute",
    "m3_s": "meter**3/second",
    "m3_h": "meter**3/hour",
    "m3_d": "meter**3/day",
    "usgal_min": "gallon/minute",
    "impgal_min": "imperial_gallon/minute",
    "deg": "degree",
    "rad": "radian",
    "gon": "gon",
    "c": "degree_Celsius",
    "f": "degree_Fahrenheit",
    "k": "kelvin",
    "m_per_s": "meter/second",
    "cm_per_s": "centimeter/second",
    "m_per_d": "meter/day",
    "ft_per_d": "foot/day",
    "per_pa": "1/pascal",
    "per_kpa": "1/kilopascal",
    "per_bar": "1/bar",
    "per_psi": "1/psi",
    "ng_per_l": "nanogram/liter",
    "ug_per_l": "microgram/liter",
    "mg_per_l": "milligram/liter",
    "g_per_l": "gram/liter",
    "ug_per_m3": "microgram/meter**3",
    "mg_per_m3": "milligram/meter**3",
    "g_per_mol": "gram/mole",
}
# unit symbol of the schema -> the suffix that its columns carry
SYMBOLS = {
    "m": "m",
    "mm": "mm",
    "kPa": "kpa",
    "s": "s",
    "min": "min",
    "d": "d",
    "g/mol": "g_per_mol",
    "L": "l",
    "L/min": "l_min",
    "deg": "deg",
    "degC": "c",
    "1/Pa": "per_pa",
    "m/s": "m_per_s",
    "ug/L": "ug_per_l",
}
# What is measured, and how many of its first unit one is, for units as pint writes them.
MULTIPLES = {
    "meter": ("length", "1"),
    "centimeter": ("length", "0.01"),
    "millimeter": ("length", "0.001"),
    "kilometer": ("length", "1000"),
    "foot": ("length", "0.3048"),
    "inch": ("length", "0.0254"),
    "yard": ("length", "0.9144"),
    "pascal": ("pressure", "1"),
    "hectopascal": ("pressure", "100"),
    "kilopascal": ("pressure", "1000"),
    "megapascal": ("pressure", "1000000"),
    "bar": ("pressure", "100000"),
    "millibar": ("pressure", "100"),
    "second": ("time", "1"),
    "millisecond": ("time", "0.001"),
    "minute": ("time", "60"),
    "hour": ("time", "3600"),
    "day": ("time", "86400"),
    "liter": ("volume", "0.001"),
    "milliliter": ("volume", "0.000001"),
    "gallon": ("volume", "0.003785411784"),
    "meter**3": ("volume", "1"),
    "liter/minute": ("flow", "1/60000"),
    "liter/second": ("flow", "1/1000"),
    "gallon/minute": ("flow", "0.0000630901964"),
    "liter/hour": ("flow", "1/3600000"),
    "milliliter/minute": ("flow", "1/60000000"),
    "meter**3/second": ("flow", "1"),
    "meter**3/hour": ("flow", "1/3600"),
    "meter**3/day": ("flow", "1/86400"),
    "meter/second": ("speed", "1"),
    "centimeter/second": ("speed", "0.01"),
    "meter/day": ("speed", "1/86400"),
    "1/pascal": ("compressibility", "1"),
    "1/kilopascal": ("compressibility", "0.001"),
    "1/bar": ("compressibility", "0.00001"),
    "nanogram/liter": ("concentration", "1e-9"),
    "microgram/liter": ("concentration", "1e-6"),
    "milligram/liter": ("concentration", "1e-3"),
    "gram/liter": ("concentration", "1"),
    "microgram/meter**3": ("concentration", "1e-9"),
    "milligram/meter**3": ("concentration", "1e-6"),
    "gram/mole": ("molar mass", "1"),
    "degree": ("angle", "1"),
    "degree_Celsius": ("temperature", "1"),
}
TENS = {"g": 0, "kg": 3, "mg": -3, "ug": -6, "ng": -9, "pg": -12}
TENS |= {"L": 0, "mL": -3, "dL": -1, "m3": 3, "cm3": -3, "dm3": 0}
MASSES = {"": "g", "k": "kg", "m": "mg", "u": "ug", "n": "ng", "p": "pg"}
VOLUMES = {"l": "L", "ml": "mL", "dl": "dL", "m3": "m3", "cm3": "cm3", "dm3": "dm3"}
CONCENTRATION = re.compile(r"^([kmunp]?)g(?:/|per)(l|ml|dl|m3|cm3|dm3)$")
AMBIGUOUS = ("ppm", "ppb", "ppt", "ppmv", "ppbv")  # where not known to be of a gas


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction, autoconvert_offset_to_baseunit=True)


@cache
def _line(from_unit: str, to_unit: str) -> tuple[float, float]:
    """Slope and offset of the conversion, worked out in exact fractions where pint allows it.

    KeyError where the two measure different things.
    """
    if from_unit in MULTIPLES and to_unit in MULTIPLES:
        (here, one), (there, other) = MULTIPLES[from_unit], MULTIPLES[to_unit]
        if here == there:
            return float(Fraction(one) / Fraction(other)), 0.0
        raise KeyError(from_unit)
    import pint

    quantity = _registry().Quantity
    try:
        zero, one = (quantity(n, from_unit).to(to_unit).magnitude for n in (0, 1))
    except (pint.DimensionalityError, pint.UndefinedUnitError) as error:
        raise KeyError(from_unit) from error
    return float(one - zero), float(zero)


def convert(values: ArrayLike, from_suffix: str, to_suffix: str) -> NDArray[np.float64]:
    """Numbers in the unit of one header suffix, in the unit of another.

    Parameters
    ----------
    values : array_like, shape (n,) [from_suffix]
        Numbers; NaN stays NaN.
    from_suffix, to_suffix : str
        Keys of `SUFFIXES`.

    Returns
    -------
    Array, shape (n,) [to_suffix]
        A new array.

    Raises
    ------
    DataError
        The two units measure different things.

    References
    ----------
    International yard and pound agreement (1959): 1 ft = 0.3048 m.

    Examples
    --------
    10 ft is 3.048 m.
    """
    import numpy as np

    numbers = np.array(values, dtype=np.float64)
    if from_suffix == to_suffix:
        return numbers
    slope, offset = _conversion(from_suffix, to_suffix)
    return numbers * slope + offset if offset else numbers * slope


def _conversion(from_suffix: str, to_suffix: str) -> tuple[float, float]:
    try:
        return _line(SUFFIXES[from_suffix], SUFFIXES[to_suffix])
    except KeyError as error:
        raise DataError(
            "units",
            f"'{from_suffix}'",
            f"a unit that converts to '{to_suffix}'",
            "Correct the unit in the header.",
        ) from error


def is_convertible(from_suffix: str, to_suffix: str) -> bool:
    """Whether both suffixes are known and measure the same thing."""
    try:
        _conversion(from_suffix, to_suffix)
    except DataError:
        return False
    return True


def concentration_unit(text: str) -> str | None:
    """The one spelling of a unit of mass per volume: `mg/l`, `MG/L` and `mg per L` give `mg/L`.

    None for anything else; among these are ppm and ppb, which do not say of what.
    """
    plain = text.strip().casefold().replace("µ", "u").replace("μ", "u").replace("³", "3")
    found = CONCENTRATION.match(re.sub(r"[\s^]", "", plain).replace("mcg/", "ug/"))
    if found is None:
        return None
    return f"{MASSES[found[1]]}/{VOLUMES[found[2]]}"


def to_ug_per_l(value: float, unit: str) -> float:
    """A concentration in micrograms per litre.

    Parameters
    ----------
    value : float [unit]
        Concentration.
    unit : str
        Mass per volume, in any common spelling.

    Returns
    -------
    float [ug/L]
        The same concentration.

    Raises
    ------
    DataError
        The unit is no mass per volume.

    Examples
    --------
    2 mg/L is 2000 ug/L.
    """
    spelling = concentration_unit(unit)
    if spelling is None:
        raise DataError("units", f"'{unit}'", "mass per volume, such as ug/L", unit_advice(unit))
    mass, volume = spelling.split("/")
    return value * float(Fraction(10) ** (TENS[mass] - TENS[volume] + 6))


def unit_advice(unit: str) -> str:
    """What to do about a unit of concentration that is not understood."""
    if unit.strip().casefold() in AMBIGUOUS:
        return "Ask the laboratory which mass per volume is meant and write it, such as ug/L."
    return "Write the unit as mass per volume: ng/L, ug/L, mg/L, ug/m3 or mg/m3."
