"""Numbers as people write them: thousands marks, decimal commas, feet and inches, fractions.

A comma with exactly three digits behind it may mark thousands or decimals. It is refused until a
profile (or site.toml) says which; nothing is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from geoprofile.intake.problems import shown

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
# thousands and decimals marked, in either way
BOTH_MARKS = re.compile(r"[+-]?\d{1,3}((,\d{3})+\.|(\.\d{3})+,)\d*", re.ASCII)
WITH_COMMA = re.compile(r"[+-]?\d{1,3}(,\d{3})*,?\d*([eE][+-]?\d+)?|[+-]?\d+,\d+", re.ASCII)
DOUBTFUL = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)  # 1,258 but not 0,258
SPACED = re.compile(r"[+-]?\d{1,3}([ '\u2019]\d{3})+([.,]\d*)?", re.ASCII)
INCH, FOOT = ("in",), ("ft", "usft")
_PART = r"(?:\d+(?:\.\d*)?(?:[ -]+\d+/\d+)?|\d+/\d+)"
IN_FEET = re.compile(
    rf"(?P<sign>-?)(?P<feet>\d+(?:\.\d+)?) ?(?:'|ft\.?|feet)"
    rf"(?:[ -]*(?P<inches>{_PART}) ?(?:\"|''|in\.?|inches)?)?",
    re.ASCII | re.IGNORECASE,
)
IN_INCHES = re.compile(
    rf"(?P<sign>-?)(?P<inches>{_PART}) ?(?P<mark>\"|''|in\.?|inches)?", re.ASCII | re.IGNORECASE
)
NAN = float("nan")
KEYS = "in its [[intake.profile]] in site.toml"

Why = tuple[str, str, str]  # found, expected, advice


def number(text: str, decimal: str, thousands: str = "", unit: str = "") -> float:
    """A cell as a number [as written]; NaN for what is none or may be two.

    Parameters
    ----------
    text : str
        The cell, without blanks at its ends.
    decimal : str
        "." or ",".
    thousands : str
        ",", ".", " ", "'", or "none"; "" where nobody said.
    unit : str
        Suffix of the column's unit; in feet and inches `20' 6"` and `5 7/8` are numbers.
    """
    plain = _without_thousands(text, decimal, thousands)
    if plain is None:
        return NAN
    if NUMBER.fullmatch(plain):
        return float(plain)
    return _length(text, unit) if unit in (*INCH, *FOOT) else NAN


def _without_thousands(text: str, decimal: str, thousands: str) -> str | None:
    """The number with a decimal point alone; None where its marks do not fit."""
    if thousands in (",", ".", " ", "'"):
        marks = {" ": " \u00a0\u2009\u202f", "'": "'\u2019"}.get(thousands, thousands)
        if any(m in text for m in marks):
            kinds = "[" + re.escape(marks) + "]"
            tail = re.escape(decimal)
            if not re.fullmatch(rf"[+-]?\d{{1,3}}(?:{kinds}\d{{3}})+(?:{tail}\d*)?", text):
                return None
            text = re.sub(kinds, "", text)
    if decimal == ".":
        return text
    if "." in text or (not thousands and DOUBTFUL.fullmatch(text)):
        return None
    return text.replace(",", ".")


def _length(text: str, unit: str) -> float:
    """Feet and inches, or a fraction, in the column's own unit: feet or inches."""
    plain = _plain_quotes(text)
    found = IN_FEET.fullmatch(plain)
    if found is not None:
        inches = _parts(found["inches"]) if found["inches"] else Fraction(0)
        feet = Fraction(found["feet"]) + inches / 12
        return _signed(found["sign"], feet * 12 if unit in INCH else feet)
    found = IN_INCHES.fullmatch(plain)
    if found is None:
        return NAN
    size = _parts(found["inches"])
    if found["mark"] and unit in FOOT:
        size /= 12
    return _signed(found["sign"], size)


def _plain_quotes(text: str) -> str:
    """Typographic quotes and fractions of one letter as plain ones, blanks as single ones."""
    apart = "".join(f" {c}" if unicodedata.name(c, "").startswith("VULGAR") else c for c in text)
    for fancy, plain in (("\u2032\u2019\u2018", "'"), ("\u2033\u201d\u201c", '"')):
        apart = re.sub(f"[{fancy}]", plain, apart)
    return " ".join(unicodedata.normalize("NFKC", apart).replace("\u2044", "/").split())


def _parts(text: str) -> Fraction:
    """`5 7/8`, `7/8` or `6.5` as a fraction; a division by zero counts as nothing readable."""
    total = Fraction(0)
    for part in re.split(r"[ -]+", text.strip()):
        top, slash, bottom = part.partition("/")
        if slash and int(bottom) == 0:
            return Fraction(-1)
        total += Fraction(int(top), int(bottom)) if slash else Fraction(part.rstrip("."))
    return total


def _signed(sign: str, size: Fraction) -> float:
    if size < 0:
        return NAN
    return -float(size) if sign else float(size)


def why_no_number(text: str, decimal: str, thousands: str = "", unit: str = "") -> Why:
    """What is wrong with a cell that is no number, and the key or the correction that helps."""
    if (
        DOUBTFUL.fullmatch(text)
        and thousands in ("", "none")
        and (thousands, decimal)
        != (
            "none",
            ",",
        )
    ):
        return _doubtful(text)
    if decimal == "," and "." in text and NUMBER.fullmatch(text):
        return (
            shown(text),
            "a number with a decimal comma, as declared",
            f'A point can mean thousands or decimals: say thousands = "." or decimal = "." {KEYS}.',
        )
    if BOTH_MARKS.fullmatch(text):
        mark = "," if text.find(",") < text.find(".") else "."
        other = "." if mark == "," else ","
        return (
            shown(text),
            "a number without thousands marks, as nobody said that there are any",
            f'Say thousands = "{mark}" and decimal = "{other}" {KEYS}.',
        )
    if SPACED.fullmatch(text):
        mark = " " if " " in text else "'"
        return (
            shown(text),
            "a number without thousands marks, as nobody said that there are any",
            f'Say thousands = "{mark}" {KEYS}.',
        )
    if decimal == "." and WITH_COMMA.fullmatch(text):
        return (
            shown(text),
            "a number with a decimal point",
            'If it writes 12,5 for twelve and a half, say decimal = "," in its [[intake.profile]], '
            'or for all files: [intake] decimal = ",".',
        )
    if unit not in (*INCH, *FOOT) and _is_imperial(text):
        return (
            shown(text),
            "a number in the unit that the column's name says",
            "If it is in feet and inches, say so in the name (such as top_ft, diameter_in), or "
            f"with the key columns {KEYS}.",
        )
    return _no_number(text)


def _doubtful(text: str) -> Why:
    tail = text.replace(",", "")
    readings = f"{tail} or {text.replace(',', '.')}" if text.count(",") == 1 else tail
    return (
        f"{shown(text)}, which may mean {readings}",
        "a comma of which it is said whether it marks thousands or decimals",
        f'Look it up, then say thousands = "," or decimal = "," {KEYS}.',
    )


def _is_imperial(text: str) -> bool:
    plain = _plain_quotes(text)
    if IN_FEET.fullmatch(plain):
        return True
    found = IN_INCHES.fullmatch(plain)
    return found is not None and bool(found["mark"] or "/" in found["inches"])


def _no_number(text: str) -> Why:
    if re.search(r"[A-Za-z'\"\u00b0]$", text):
        return (
            shown(text),
            "a number alone",
            "The unit belongs in the column's name. If there is no value, leave the cell empty or "
            "say missing = [...] in an intake profile.",
        )
    return (
        shown(text),
        "a number",
        "Correct it; if there is no value, leave the cell empty or say missing = [...] in an "
        "intake profile.",
    )
