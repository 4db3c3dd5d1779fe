"""How the cells of an unknown file are written: number marks, dates, words for nothing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from geoprofile.intake.cells import clean
from geoprofile.intake.header_block import facts_of
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.looking import Look
from geoprofile.intake.numbers import DOUBTFUL
from geoprofile.intake.results import NOT_DETECTED
from geoprofile.intake.times import ISO_TIME

DAYS: tuple[str, ...] = (
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d.%m.%Y",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%Y/%m/%d",
    "%d %b %Y",
)
DAYS += ("%d-%b-%Y", "%d/%m/%y", "%m/%d/%y", "%d.%m.%y", "%d-%b-%y", "%b %d, %Y", "%Y%m%d")
CLOCKS = ("", "%H:%M", "%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f", "%I:%M %p", "%I:%M:%S %p")
_NONE = "-|--|---|n/a|na|n.a.|ns|nm|null|none|.|..|not sampled|not measured|dry"
EMPTY = frozenset(_NONE.split("|"))
POINT = re.compile(r"[+-]?\d+\.\d+")
COMMA = re.compile(r"[+-]?(\d+,(\d{1,2}|\d{4,})|0,\d+|\d{4,},\d+)")
POINT_THEN_COMMA = re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+")
COMMA_THEN_POINT = re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+")
SPACED = re.compile(r"[+-]?\d{1,3}( \d{3})+([.,]\d+)?")


def marks_of(texts: Sequence[tuple[str, str]], questions: list[str]) -> tuple[str, str]:
    """Decimal and thousands marks, "" where the usual ones hold or nothing can be told."""
    cells = [t for _, t in texts]
    numbers = {_number_in(c) for c in cells}
    has = {
        name: any(form.fullmatch(c) for c in numbers)
        for name, form in (
            ("point,comma", POINT_THEN_COMMA),
            ("comma,point", COMMA_THEN_POINT),
            ("comma", COMMA),
            ("point", POINT),
            ("spaced", SPACED),
        )
    }
    doubtful = sorted({c for c in cells if DOUBTFUL.fullmatch(c.lstrip("<> "))})
    if has["point,comma"]:
        return ",", "."
    if has["comma,point"]:
        return ".", ","
    if has["comma"] and not has["point"]:
        return ",", " " if has["spaced"] else "none"
    if doubtful and has["point"]:
        questions.append(
            f"'{doubtful[0]}' is read as {doubtful[0].replace(',', '')}, for other numbers have a "
            "decimal point: check it against the original"
        )
        return ".", ","
    if doubtful:
        questions.append(
            f"'{doubtful[0]}' may mean {doubtful[0].replace(',', '')} or "
            f'{doubtful[0].replace(",", ".")}: say thousands = "," or decimal = ","'
        )
    return "", " " if has["spaced"] else ""


def _number_in(text: str) -> str:
    """A number without the sign before it and the letters behind it."""
    return re.sub(r"[ ]?[A-Za-z*]+$", "", text.lstrip("<> "))


def missing_of(texts: Sequence[tuple[str, str]], questions: list[str]) -> tuple[str, ...]:
    """Words in columns of numbers that stand for an empty cell."""
    words = {t.casefold(): t for n, t in texts}
    for name, text in texts:
        plain = text.casefold()
        if re.search(r"\d", text) or plain in EMPTY:
            continue
        if name.startswith("value") and plain in NOT_DETECTED:
            continue
        questions.append(f"'{text}' in {name}: say missing or not_detected = [\"{text}\"]")
    return tuple(sorted(words[w] for w in words if w in EMPTY))


def dates_of(
    look: Look, columns: Mapping[str, str], block: Mapping[str, str], questions: list[str]
) -> tuple[str, ...]:
    """The form of the times in columns of times, where it is not ISO 8601."""
    kinds = {c.name: c.kind for c in columns_of(look.table)}
    forms: list[str] = []
    groups: dict[str, list[int]] = {}
    for i, heading in enumerate(look.headings):
        name = columns.get(heading, "")
        if kinds.get(name) in ("datetime", "date"):
            groups.setdefault(name, []).append(i)
    cells_of = {
        name: {
            " ".join(clean(x.cells[i]) for i in indexes if i < len(x.cells)).strip()
            for x in look.data
        }
        for name, indexes in groups.items()
    }
    facts = {f: label for f, label in block.items() if kinds.get(f) in ("datetime", "date")}
    for name, text in facts_of(look.block, facts, look.source.name, "").items():
        cells_of.setdefault(name, {text})
    for name, every in cells_of.items():
        cells = every - {""}
        other = sorted(c for c in cells if not ISO_TIME.fullmatch(c))
        if not other:
            continue
        fitting = [f for f in _forms() if all(_fits(c, f) for c in other)]
        if len({_day_first(f) for f in fitting}) > 1:
            questions.append(
                f"'{other[0]}' in {name} may be day or month first: say date_format = "
                + " or ".join(f'"{f}"' for f in fitting[:2])
            )
        elif fitting:
            forms.append(fitting[0])
        elif any(re.search(r"\d", c) for c in other):
            questions.append(f"'{other[0]}' in {name}: say date_format, such as \"%d/%m/%Y %H:%M\"")
    return tuple(dict.fromkeys(forms))


def _forms() -> list[str]:
    return [" ".join(filter(None, (day, clock))) for day in DAYS for clock in CLOCKS]


def _day_first(form: str) -> bool:
    return form.find("%d") < form.find("%m")


def _fits(text: str, form: str) -> bool:
    try:
        return 1900 <= datetime.strptime(text, form).year <= 2100
    except ValueError:
        return False
