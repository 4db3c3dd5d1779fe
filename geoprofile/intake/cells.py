"""Turns columns of text into numbers, texts and flags; every cell that does not fit is told."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.intake.numbers import NUMBER, number, why_no_number
from geoprofile.intake.problems import place, shown, tell
from geoprofile.intake.sources import SiteSettings
from geoprofile.schema import Column
from geoprofile.units import SYMBOLS, convert

if TYPE_CHECKING:
    from geoprofile.intake.headers import Bound

Reals = NDArray[np.float64]
Why = tuple[str, str, str]  # found, expected, advice
PLAIN = frozenset("0123456789+-.eE")
BLANKS = "\u200b\u200e\u200f\ufeff"  # marks without width, which str.strip leaves
YES, NO = ("true", "yes", "y", "1"), ("false", "no", "n", "0")


@dataclass(frozen=True, eq=False)
class Cells:
    """The cells of one column of a piece, how they are written, and what names them in messages.

    `unit` is the suffix of the unit in which the file has them.
    """

    texts: Sequence[str]
    rows: Sequence[int]
    source: str
    heading: str
    decimal: str
    thousands: str = ""
    unit: str = ""

    def tell(
        self,
        problems: list[Problem],
        bad: Sequence[int],
        what: Callable[[int], Why],
    ) -> None:
        """Add a problem for every bad cell."""
        tell(problems, bad, lambda i: place(self.source, self.rows[i], self.heading), what)


def clean(text: str) -> str:
    """A cell without blanks at its ends, also those that cannot be seen."""
    return text.strip().strip(BLANKS).strip()


def texts(cells: Cells) -> list[str | None]:
    """Texts as they stand, without blanks at the ends; an empty cell is None."""
    unique = {t: clean(t) or None for t in set(cells.texts)}
    return [unique[t] for t in cells.texts]


def numbers(cells: Cells, problems: list[Problem]) -> Reals:
    """Numbers [as written]; an empty cell is NaN, and so is one that is told as a problem."""
    plain = list(cells.texts)
    how = (cells.decimal, cells.thousands, cells.unit)
    if cells.decimal == "." and cells.thousands != "." and (quick := _quick(plain)) is not None:
        values = quick
    else:
        plain = [clean(t) for t in plain]
        values = np.array([number(t, *how) for t in plain])
    lost = [int(i) for i in np.flatnonzero(np.isnan(values)) if plain[i]]
    huge = [int(i) for i in np.flatnonzero(np.isinf(values))]
    cells.tell(problems, lost, lambda i: why_no_number(plain[i], *how))
    cells.tell(problems, huge, lambda i: (plain[i], "a finite number", "Correct the number."))
    values[huge] = np.nan
    return values


def _quick(plain: Sequence[str]) -> Reals | None:
    """All cells at once where nothing but plain numbers and empty cells occurs."""
    if not set("".join(plain)) <= PLAIN:
        return None
    try:
        return np.array([float(t) if t else np.nan for t in plain])
    except ValueError:
        return None


def in_unit(values: Reals, bound: Bound) -> Reals:
    """The numbers of a column in the unit of the schema."""
    if not bound.suffix or bound.column is None or bound.column.unit not in SYMBOLS:
        return values
    return convert(values, bound.suffix, SYMBOLS[bound.column.unit])


def check_numbers(values: Reals, column: Column, cells: Cells, problems: list[Problem]) -> None:
    """Tell numbers outside the limits of the column."""
    bad = np.zeros(len(values), dtype=bool)
    if column.low is not None:
        bad |= values < column.low
    if column.above is not None:
        bad |= values <= column.above
    if column.high is not None:
        bad |= values > column.high
    if column.kind == "integer":
        bad |= values != np.round(values)
        bad &= ~np.isnan(values)
    rule = limits(column)
    cells.tell(
        problems,
        list(np.flatnonzero(bad)),
        lambda i: (
            cells.texts[i].strip() + _converted(values[i], cells.texts[i], column),
            rule,
            "Check the sign, the unit and the decimal point.",
        ),
    )


def _converted(value: float, text: str, column: Column) -> str:
    """The value in the column's unit, where that is not how it is written."""
    try:
        same = float(text) == value
    except ValueError:
        same = False
    return "" if same else f" (which is {value:.6g} {column.unit})"


def limits(column: Column) -> str:
    """The rule for the numbers of a column, in words."""
    unit = f" {column.unit}" if column.unit not in ("", "1") else ""
    parts = []
    if column.low is not None:
        parts.append(f"{column.low:g}{unit} or more")
    if column.above is not None:
        parts.append(f"above {column.above:g}{unit}")
    if column.high is not None:
        parts.append(f"at most {column.high:g}{unit}")
    return ("a whole number " if column.kind == "integer" else "") + " and ".join(parts)


def choices(
    values: list[str | None], column: Column, cells: Cells, problems: list[Problem]
) -> list[str | None]:
    """Texts of a column that allows only some, in the schema's spelling."""
    known = {_plain_word(a): a for a in column.allowed}
    plain = {v: known.get(_plain_word(v)) for v in set(values) if v is not None}
    bad = [i for i, v in enumerate(values) if v is not None and plain[v] is None]
    rule = "one of " + ", ".join(column.allowed)
    cells.tell(
        problems,
        bad,
        lambda i: (
            shown(values[i]),
            rule,
            "Use one of these words, or say what it means in an intake profile: values = "
            f"{{ {column.name} = {{ {shown(values[i])} = ... }} }}.",
        ),
    )
    return [None if v is None else plain[v] for v in values]


def _plain_word(text: str) -> str:
    return re.sub(r"[\s_-]+", " ", text.casefold())


def flags(cells: Cells, problems: list[Problem]) -> list[bool | None]:
    """Yes and no as flags; an empty cell is None."""
    words = [clean(t).casefold() for t in cells.texts]
    bad = [i for i, w in enumerate(words) if w and w not in YES + NO]
    cells.tell(
        problems, bad, lambda i: (shown(cells.texts[i]), "true or false", "Correct the cell.")
    )
    return [True if w in YES else False if w in NO else None for w in words]


def number_lists(
    values: list[str | None], bound: Bound, cells: Cells, problems: list[Problem]
) -> list[str | None]:
    """Lists of numbers separated by blanks, in the unit of the schema."""
    bad = [i for i, v in enumerate(values) if v is not None and not _is_list(v)]
    cells.tell(
        problems,
        bad,
        lambda i: (shown(values[i]), "numbers above 0 separated by spaces", "Write, such as, 8 6."),
    )
    gone = set(bad)
    return [
        None if v is None or i in gone else _list_in_unit(v, bound) for i, v in enumerate(values)
    ]


def _is_list(text: str) -> bool:
    return all(NUMBER.fullmatch(p) and 0 < float(p) < np.inf for p in re.split(r"[\s;]+", text))


def _list_in_unit(text: str, bound: Bound) -> str:
    parts = re.split(r"[\s;]+", text)
    if not bound.suffix:
        return " ".join(parts)
    return " ".join(f"{v:.6g}" for v in in_unit(np.array([float(p) for p in parts]), bound))


def cells_of(
    texts: Sequence[str],
    rows: Sequence[int],
    source: str,
    bound: Bound,
    settings: SiteSettings,
    *,
    typed: bool,
) -> Cells:
    """The cells of a bound column; where a workbook held numbers the decimal mark is a point."""
    decimal = "." if typed else settings.decimal
    own = "" if bound.column is None else SYMBOLS.get(bound.column.unit, "")
    unit = bound.suffix or own
    return Cells(texts, rows, source, bound.heading, decimal, settings.thousands, unit)
