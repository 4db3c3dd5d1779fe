"""Tables of the report: captioned, sortable, filtered, and readable without any script."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from geoprofile.drawing.people import now, translated
from geoprofile.drawing.symbols import units_in
from geoprofile.report.markup import escaped, number, words
from geoprofile.validation.topics import ALSO, NUMBERS, TOPICS, anchor

MOST_ROWS = 3000  # beyond, the page would be slow; the hand-over has every row
FILTER_FROM = 6  # rows
WIDE_FROM = 32  # characters; longer texts get a wider column and may break anywhere
SHORT_TO = 20  # characters; shorter texts stand in one line
TAG = re.compile(r"<[^>]*>")
UTC = "(UTC)"
SECONDS = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d):00(?:\.0+)?Z?$")  # that say nothing
SAME_FROM = 8  # rows, from which paper says once what all of them say
COORDINATES = ("Easting", "Northing")
SENTENCES = ("Why", "Reasons", "Notes", "What", "What to do", "Warnings", "Cautions")
Row: TypeAlias = dict[str, Any]


@dataclass(frozen=True)
class Shown:
    """A column: its heading, what it shows of a row, and its unit.

    `take` gives a number, a text or None; with `is_html` it gives finished HTML instead. Paper
    leaves out a column that says the same in every row, or `elsewhere` in the report. With `places`
    a number has so many after the point.
    """

    heading: str
    take: Callable[[Row], Any]
    unit: str = ""
    digits: int = 3
    is_html: bool = False
    key: str = ""
    elsewhere: str = ""
    places: int | None = None


@dataclass(frozen=True)
class Cell:
    """A cell as HTML: what stands in it, its class, and the number that it sorts by."""

    inner: str
    kind: str = ""
    value: str = ""


def field(heading: str, key: str, unit: str = "", digits: int = 3, *, elsewhere: str = "") -> Shown:
    """A column of the table as it is."""
    return Shown(heading, lambda row: row[key], unit, digits, key=key, elsewhere=elsewhere)


def coordinate(heading: str, key: str, unit: str) -> Shown:
    """A coordinate: to a centimetre, or to as many places of a degree, and never in powers."""
    return Shown(heading, lambda r: r[key], unit, key=key, places=7 if unit == "deg" else 2)


def table(
    caption: str,
    columns: Sequence[Shown],
    rows: Sequence[Row],
    *,
    hole_of: Callable[[Row], int | None] | None = None,
    none: str = "None yet.",
    in_halves: bool = False,
) -> str:
    """A table, or a sentence where there are no rows; a row of a borehole is marked with it.

    Paper sets one of few short columns in two halves of the page.
    """
    if not rows:
        return f"<p>{escaped(caption)}: {escaped(none)}</p>"
    shown = rows[:MOST_ROWS]
    cells = [[_cell(row, c) for c in columns] for row in shown]
    spared = _spared(columns, cells)
    head = "".join(
        f'<th scope="col" aria-sort="none"><button type="button">{_heading(c)}'
        f'</button><span class="print" aria-hidden="true">{_heading(c)}</span></th>'
        for c in columns
    )
    body = "".join(_row(row, line, hole_of) for row, line in zip(shown, cells, strict=True))
    note = _cut_note(len(rows)) + _spared_note(spared)
    controls = (
        f'<p class="controls"><label>Filter <input type="search" '
        f'aria-label="Filter: {escaped(caption)}"></label> <span role="status"></span></p>'
        if len(rows) >= FILTER_FROM
        else ""
    )
    return (
        f'<div class="table{" halves" if in_halves else ""}">{controls}'
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escaped(caption)}">'
        f"<table{_classes(*(f'spare{place + 1}' for place in spared))}>"
        f"<caption>{escaped(caption)}{note}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>{_checked(columns)}</div>"
    )


def _heading(column: Shown) -> str:
    unit = (
        ""
        if column.unit in ("", "1")
        else f' <span class="unit">[{escaped(units_in(_unit(column)))}]</span>'
    )
    return f"{escaped(column.heading)}{unit}"


def _unit(column: Shown) -> str:
    """The unit that is read; a coordinate keeps that of its CRS."""
    return column.unit if column.heading in COORDINATES else now().unit(column.unit)


def _checked(columns: Sequence[Shown]) -> str:
    """Where in the page each number's check stands."""
    topics: dict[str, list[str]] = {}
    for column in columns:
        if column.key in NUMBERS:
            for topic in (NUMBERS[column.key], *ALSO.get(column.key, ())):
                topics.setdefault(topic, []).append(column.heading)
    links = (
        f'<a href="#{anchor(topic)}">{escaped(TOPICS[topic])}</a> '
        f"({escaped(', '.join(dict.fromkeys(headings)))})"
        for topic, headings in topics.items()
    )
    said = "; ".join(links)
    return f'<p class="checked">How these numbers are checked: {said}.</p>' if said else ""


def _cut_note(count: int) -> str:
    if count <= MOST_ROWS:
        return ""
    return f" (the first {MOST_ROWS:,} of {count:,} rows; the layers hold them all)"


def _spared(columns: Sequence[Shown], cells: Sequence[Sequence[Cell]]) -> dict[int, str]:
    """What paper says once of a column instead of in every row, by the column's place."""
    found = {}
    for place, column in enumerate(columns):
        said = {line[place].inner for line in cells}
        if column.elsewhere:
            found[place] = f"{escaped(column.heading)}: {escaped(column.elsewhere)}"
        elif len(cells) >= SAME_FROM and len(said) == 1:
            found[place] = f"{_heading(column)}: {said.pop() or 'none'}"
    return found


def _spared_note(spared: dict[int, str]) -> str:
    if not spared:
        return ""
    return f'<span class="on-paper spared">In every row: {"; ".join(spared.values())}.</span>'


def _classes(*names: str) -> str:
    found = " ".join(filter(None, names))
    return f' class="{found}"' if found else ""


def _row(
    row: Row,
    cells: Sequence[Cell],
    hole_of: Callable[[Row], int | None] | None,
) -> str:
    place = hole_of(row) if hole_of else None
    mark = "" if place is None else f' data-hole="{place}"'
    inner = "".join(f"<td{_classes(cell.kind)}{cell.value}>{cell.inner}</td>" for cell in cells)
    return f"<tr{mark}>{inner}</tr>"


def _kind(letters: int) -> str:
    """Short texts stand in one line, long ones get a wide column."""
    return "w" if letters > WIDE_FROM else "m" if letters > SHORT_TO else ""


def _cell(row: Row, column: Shown) -> Cell:
    value = column.take(row)
    if column.is_html:
        return Cell(str(value), "m" if len(TAG.sub("", str(value))) > SHORT_TO else "")
    if value is None:
        return Cell("")
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, (int, float)):
        if isinstance(value, float) and _unit(column) != column.unit:
            value = now().value(value, column.unit)
        if column.places is not None:
            shown = f"{value:.{column.places}f}".replace("-", "−")
        else:
            whole = isinstance(value, int)
            shown = f"{value:,}" if whole else number(value, column.digits, _unit(column))
        return Cell(shown, "n", f' data-v="{value!r}"')
    text = str(value)
    if column.heading in SENTENCES:
        text = translated(text)
    elif column.heading.endswith(UTC):
        text = SECONDS.sub(r"\1 \2", text)
    return Cell(words(text), _kind(len(text)))
