"""Reads laboratory values as laboratories write them: a value, or a flag and a limit.

A value below its limit never becomes a number: `<0.5`, `0.5 U` and `ND` are stored as not detected
with the limit 0.5, or with the limit of the limit column.
"""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from typing import Any

import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake import cells as c
from geoprofile.intake.frames import framed
from geoprofile.intake.headers import Bound
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.numbers import number as number_of
from geoprofile.intake.numbers import why_no_number
from geoprofile.intake.problems import shown
from geoprofile.intake.sources import SiteSettings
from geoprofile.intake.text import Piece
from geoprofile.intake.typed_columns import typed
from geoprofile.schema import Column
from geoprofile.units import concentration_unit, unit_advice

# common practice, no source: words for 'not detected', and qualifier letters
WORDS = "nd|n.d.|n.d|n/d|bdl|brl|<lod|<loq|<rl|<mdl|<dl|<pql|not detected|none detected|u|uj|<"
NOT_DETECTED = frozenset(WORDS.split("|"))
SPACES = "['\u00a0\u2009\u202f\u2019 ]"  # between thousands
VALUE = re.compile(
    rf"(?P<sign>[<>\u2264\u2265]?=?)\s*"
    rf"(?P<number>[-+]?[\d.,]+(?:{SPACES}\d{{3}})*(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*"
    rf"(?P<mark>[A-Za-z]{{1,3}}(?:[ ,]+[A-Za-z]{{1,3}})*[*]?)?",
    re.ASCII,
)
ABOVE_RANGE = (">", ">=", "\u2265", "\u2265=")
UNIT_WORDS = frozenset(("g", "mg", "ug", "ng", "kg", "l", "ml", "ppm", "ppb", "ppt", "per"))
FLAGS_BELOW = ("U", "UJ", "ND", "BDL", "BRL", "<")

PARTS = {"ppmv": 1.0, "ppbv": 1e-3}  # parts by volume of a gas, in 1e-6
VALUES = ("value", "limit", "detected")  # read together
TEXTS = ("sample", "analyte", "cas", "unit", "qualifier")
OURS = frozenset(col.name for col in columns_of("result"))

Why = tuple[str, str, str]


@dataclass(frozen=True)
class Value:
    """A laboratory value taken apart; NaN stands for no number."""

    value: float
    limit: float
    detected: bool
    qualifier: str | None


def parse_value(
    text: str,
    *,
    limit: float = math.nan,
    detected: bool | None = None,
    qualifier: str | None = None,
    decimal: str = ".",
    thousands: str = "",
) -> Value | Why:
    """Value, flag and limit from a cell and the cells beside it; or found, expected and advice.

    A qualifier U in the cell or beside it, `<`, a word such as ND, or a flag column that says
    false, mean not detected. If both the cell and the limit column then hold a number, the larger
    one is the limit: the substance may be present up to there.
    """
    text = c.clean(text)
    if text.casefold() in NOT_DETECTED or (not text and _says_below(detected, qualifier)):
        letters = text if text.casefold() in ("u", "uj") else qualifier
        return _below(math.nan, limit, detected, letters)
    if not text:
        return ("no value", "a value, or a non-detect with its limit", _ADVICE)
    found = VALUE.fullmatch(text)
    number = math.nan if found is None else number_of(found["number"], decimal, thousands)
    if found is None or math.isnan(number) or math.isinf(number) or _has_unit(found["mark"]):
        return _unreadable(text, decimal, thousands)
    if found["sign"] in ABOVE_RANGE:
        return (
            f"{shown(text)}, a value above the range of the analysis",
            "a value, or a non-detect with its limit",
            "Ask the laboratory for the diluted result; a lower bound cannot be used.",
        )
    letters = _letters(found["mark"], qualifier)
    if found["sign"] or _says_below(detected, letters):
        return _below(number, limit, detected, letters)
    return _above(text, number, limit, letters)


def _letters(mark: str | None, qualifier: str | None) -> str | None:
    """The qualifiers in and beside a cell, each once: `0.7 J` beside J is J."""
    every = " ".join(filter(None, (mark, qualifier)))
    return " ".join(dict.fromkeys(re.split(r"[ ,/]+", every.strip()))) or None


_ADVICE = "Write the value, or <0.5 (or ND and a limit column) for a substance not detected."


def _says_below(detected: bool | None, qualifier: str | None) -> bool:
    letters = re.split(r"[ ,/]+", (qualifier or "").upper())
    return detected is False or any(x in FLAGS_BELOW for x in letters)


def _below(number: float, limit: float, detected: bool | None, letters: str | None) -> Value | Why:
    if detected:
        return (
            "a value that says not detected beside a flag that says detected",
            "both to say the same",
            "Look it up in the laboratory's report and correct one of them.",
        )
    both = [x for x in (number, limit) if not math.isnan(x)]
    if not both:
        return (
            "a non-detect without a limit",
            "the limit below which it lies",
            "Fill the column limit from the laboratory's report, or write such as <0.5.",
        )
    if max(both) <= 0:
        return (
            f"a limit of {max(both):g}",
            "a limit above 0",
            "Take the reporting limit from the laboratory's report.",
        )
    return Value(math.nan, max(both), False, letters)


def _above(text: str, number: float, limit: float, letters: str | None) -> Value | Why:
    if number < 0:
        return (shown(text), "a value above 0", "Check the sign.")
    if number == 0:
        return (
            shown(text),
            "a value above 0, or a non-detect with its limit",
            "Nothing measures zero: write the reporting limit, such as <0.5.",
        )
    return Value(number, limit, True, letters)


def _has_unit(mark: str | None) -> bool:
    """Whether the letters after a number are a unit and no qualifier."""
    return any(word in UNIT_WORDS for word in re.split("[ ,]+", (mark or "").casefold()))


def _unreadable(text: str, decimal: str, thousands: str) -> Why:
    number = re.match(r"[<>\s]*([\d.,]+(?:[ '\u2019]\d{3})*(?:[.,]\d+)?)", text)
    if number and (number[1] != number[1].strip(",' ") or re.search("[, ']", number[1])):
        return why_no_number(number[1], decimal, thousands)
    if number and decimal == ",":
        return why_no_number(number[1], decimal, thousands)
    return (shown(text), "a value, <0.5, ND, or a value with a qualifier such as 0.7 J", _ADVICE)


def read_values(
    piece: Piece,
    bound: tuple[Bound, ...],
    source: str,
    settings: SiteSettings,
    problems: list[Problem],
) -> pd.DataFrame:
    """A piece of a result file as rows of the table `result`."""

    def cells(b: Bound) -> c.Cells:
        texts = piece.columns[b.index]
        return c.cells_of(texts, piece.rows, source, b, settings, typed=piece.typed)

    at = {b.name: cells(b) for b in bound}
    data: dict[str, Any] = {
        name: c.texts(at[name]) for name in at if name in TEXTS or name not in OURS
    }
    others = [b for b in bound if b.name in OURS and b.name not in (*TEXTS, *VALUES)]
    data |= typed(piece, others, "result", source, settings, problems)
    count = len(piece.rows)
    limits = c.numbers(at["limit"], problems) if "limit" in at else [math.nan] * count
    flags = c.flags(at["detected"], problems) if "detected" in at else [None] * count
    qualifiers = data.get("qualifier", [None] * count)
    if "value" not in at:
        problems.append(_no_value_column(source))
        return framed({}, source, (), "result")
    parsed = [
        parse_value(
            text,
            limit=lim,
            detected=flag,
            qualifier=letters,
            decimal=at["value"].decimal,
            thousands=at["value"].thousands,
        )
        for text, lim, flag, letters in zip(
            at["value"].texts, limits, flags, qualifiers, strict=True
        )
    ]
    why = {i: p for i, p in enumerate(parsed) if isinstance(p, tuple)}
    at["value"].tell(problems, list(why), lambda i: why[i])
    values = [Value(math.nan, math.nan, False, None) if isinstance(p, tuple) else p for p in parsed]
    data["value"] = pd.array([v.value for v in values], dtype="float64")
    data["limit"] = pd.array([v.limit for v in values], dtype="float64")
    data["detected"] = [v.detected for v in values]
    data["qualifier"] = [v.qualifier for v in values]
    data["unit"] = _units(bound, at, data, source, problems, count)
    _required(data, at, problems)
    return framed(data, source, piece.rows, "result")


def _no_value_column(source: str) -> Problem:
    names = ", ".join(col.name for col in columns_of("result") if col.name != "depth_from")
    return Problem(source, "no column value", f"columns {names}", "Add the column value.")


def _required(data: dict[str, Any], at: dict[str, c.Cells], problems: list[Problem]) -> None:
    columns: dict[str, Column] = {col.name: col for col in columns_of("result")}
    for name in ("sample", "analyte"):
        missing = [i for i, v in enumerate(data[name]) if v is None]
        why = ("an empty cell", columns[name].meaning.lower(), "Fill the cell.")
        at[name].tell(problems, missing, functools.partial(_always, why))


def _always(why: Why, row: int) -> Why:
    return why


def _units(
    bound: tuple[Bound, ...],
    at: dict[str, c.Cells],
    data: dict[str, Any],
    source: str,
    problems: list[Problem],
    count: int,
) -> list[str | None]:
    """The unit of each row, from its column or from the header of the value, in one spelling."""
    suffixes = {b.suffix for b in bound if b.name in ("value", "limit")} - {""}
    if suffixes and (len(suffixes) > 1 or "unit" in at or not _all_have(bound, suffixes)):
        problems.append(
            Problem(
                source,
                "the unit of the values in more than one place, or not for all",
                "a column unit, or the same unit in the names of value and limit",
                "Keep the column unit, and name the columns value and limit.",
            )
        )
        return [None] * count
    if suffixes:
        unit = concentration_unit(suffixes.pop().replace("_per_", "/"))
        return [unit] * count
    if "unit" not in at:
        problems.append(
            Problem(
                source,
                "no unit",
                "a column unit, or the unit in the name, such as value_ug_per_l",
                "Find out the unit of the values in the laboratory's report and add it.",
            )
        )
        return [None] * count
    return unit_column(data["unit"], at["unit"], problems)


def _all_have(bound: tuple[Bound, ...], suffixes: set[str]) -> bool:
    return all(b.suffix in suffixes for b in bound if b.name in ("value", "limit"))


def _parts(text: str) -> str | None:
    """Parts by volume in one spelling."""
    plain = text.strip().casefold()
    return plain if plain in PARTS else None


def unit_column(
    texts: list[str | None], cells: c.Cells, problems: list[Problem]
) -> list[str | None]:
    """Units of concentration in one spelling; unknown and missing ones are told."""
    known = {t: concentration_unit(t) or _parts(t) for t in set(texts) if t is not None}
    bad = [i for i, t in enumerate(texts) if t is None or known[t] is None]
    cells.tell(
        problems,
        bad,
        lambda i: (
            "no unit" if texts[i] is None else f"the unknown unit {shown(texts[i])}",
            "a unit of mass per volume",
            unit_advice(texts[i] or ""),
        ),
    )
    return [None if t is None else known[t] for t in texts]
