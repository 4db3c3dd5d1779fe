"""Units as headings and header blocks write them, as the suffixes of our columns."""

from __future__ import annotations

import re

from geoprofile.units import SUFFIXES, concentration_unit

# common practice, no source
WORDS = {
    "meter": "m",
    "meters": "m",
    "metre": "m",
    "metres": "m",
    "feet": "ft",
    "foot": "ft",
    "us survey feet": "usft",
    "us survey foot": "usft",
    "ftus": "usft",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "'": "ft",
    "psia": "psi",
    "psig": "psi",
    "lbf/in2": "psi",
    "mh2o": "mh2o",
    "m h2o": "mh2o",
    "mwc": "mh2o",
    "cm h2o": "cmh2o",
    "cmwc": "cmh2o",
    "ft h2o": "fth2o",
    "in hg": "inhg",
    "mm hg": "mmhg",
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "mins": "min",
    "minute": "min",
    "minutes": "min",
    "hr": "h",
    "hrs": "h",
    "hour": "h",
    "hours": "h",
    "day": "d",
    "days": "d",
    "liter": "l",
    "liters": "l",
    "litre": "l",
    "litres": "l",
    "l/min": "l_min",
    "lpm": "l_min",
    "l/s": "l_s",
    "l/h": "l_h",
    "m3/h": "m3_h",
    "m3/s": "m3_s",
    "us gal": "usgal",
    "us gal/min": "usgal_min",
    "us gpm": "usgal_min",
    "degc": "c",
    "deg c": "c",
    "°c": "c",
    "celsius": "c",
    "degf": "f",
    "deg f": "f",
    "°f": "f",
    "fahrenheit": "f",
    "degrees": "deg",
    "°": "deg",
    "g/mol": "g_per_mol",
    "m/s": "m_per_s",
    "cm/s": "cm_per_s",
    "ft/d": "ft_per_d",
    "ft/day": "ft_per_d",
}
# words for a gallon, which has two sizes: what they are of, in US and in imperial gallons
GALLONS = {
    "gal": ("usgal", "impgal"),
    "gals": ("usgal", "impgal"),
    "gallon": ("usgal", "impgal"),
    "gallons": ("usgal", "impgal"),
    "gpm": ("usgal_min", "impgal_min"),
    "gal/min": ("usgal_min", "impgal_min"),
    "gal_min": ("usgal_min", "impgal_min"),
    "gallons/min": ("usgal_min", "impgal_min"),
}
IN_BRACKETS = re.compile(r"^(?P<name>.*\S)\s*[(\[](?P<unit>[^()\[\]]+)[)\]]\s*$")


def suffix_of(text: str, gallon: str = "") -> str:
    """The suffix of a unit as written; "" for none that is known.

    A bare gallon is known where `gallon` says "US" or "imperial".
    """
    plain = " ".join(text.strip().strip("()[].").replace("\u00b3", "3").split()).casefold()
    plain = plain.replace("\u00b5", "u").replace("\u03bc", "u")
    if plain in GALLONS:
        return GALLONS[plain][gallon == "imperial"] if gallon else ""
    if plain in WORDS:
        return WORDS[plain]
    concentration = concentration_unit(plain)
    if concentration is not None:
        suffix = concentration.casefold().replace("/", "_per_")
        return suffix if suffix in SUFFIXES else ""
    return plain if plain in SUFFIXES else ""


def is_gallon(text: str) -> bool:
    """Whether a unit is a gallon of which it is not said which."""
    return " ".join(text.strip().split()).casefold() in GALLONS


def parted(heading: str) -> tuple[str, str]:
    """A heading without the unit in brackets at its end, and that unit; "" for none."""
    found = IN_BRACKETS.match(" ".join(heading.split()))
    return (found["name"], found["unit"].strip()) if found else (heading.strip(), "")
