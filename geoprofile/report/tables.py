"""Tables of the report: captioned, sortable, filtered, and readable without any script."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from geoprofile.drawing.people import now, translated
from geoprofile.report.markup import escaped, number, unit_words, words
from geoprofile.validation.topics import ALSO, NUMBERS, TOPICS, anchor

MOST_ROWS = 3000  # beyond, the page would be slow; the hand-over has every row
FILTER_FROM = 6  # rows
WIDE_FROM = 32  # characters; longer texts get a wider column and may break anywhere
COORDINATES = ("Easting", "Northing")
SENTENCES = ("Why", "Reasons", "Notes", "What", "What to do", "Warnings", "Cautions")
Row: TypeAlias = dict[str, Any]


@dataclass(frozen=True)
class Shown:
    """A column: its heading, what it shows of a row, and its unit.

    `take` gives a number, a text or None; with `is_html` it gives finished HTML instead.
    """

    heading: str
    take: Callable[[Row], Any]
    unit: str = ""
    digits: int = 3
    is_html: bool = False
    key: str = ""


def field(heading: str, key: str, unit: str = "", digits: int = 3) -> Shown:
    """A column of the table as it is."""
    return Shown(heading, lambda row: row[key], unit, digits, key=key)


def table(
    caption: str,
    columns: Sequence[Shown],
    rows: Sequence[Row],
    *,
    hole_of: Callable[[Row], int | None] | None = None,
    none: str = "None yet.",
) -> str:
    """A table, or a sentence where there are no rows; a row of a borehole is marked with it."""
    if not rows:
        return f"<p>{escaped(caption)}: {escaped(none)}</p>"
    shown = rows[:MOST_ROWS]
    head = "".join(
        f'<th scope="col" aria-sort="none"><button type="button">{_heading(c)}</button>'
        f'<span class="print" aria-hidden="true">{_heading(c)}</span></th>'
        for c in columns
    )
    body = "".join(_row(row, columns, hole_of) for row in shown)
    note = _cut_note(len(rows))
    controls = (
        f'<p class="controls"><label>Filter <input type="search" '
        f'aria-label="Filter: {escaped(caption)}"></label> <span role="status"></span></p>'
        if len(rows) >= FILTER_FROM
        else ""
    )
    return (
        f'<div class="table">{controls}<div class="scroll" tabindex="0" role="region" '
        f'aria-label="{escaped(caption)}"><table><caption>{escaped(caption)}{note}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>{_checked(columns)}</div>"
    )


def _heading(column: Shown) -> str:
    unit = (
        ""
        if column.unit in ("", "1")
        else f' <span class="unit">[{escaped(unit_words(_unit(column)))}]</span>'
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


def _row(row: Row, columns: Sequence[Shown], hole_of: Callable[[Row], int | None] | None) -> str:
    place = hole_of(row) if hole_of else None
    mark = "" if place is None else f' data-hole="{place}"'
    return f"<tr{mark}>{''.join(_cell(row, c) for c in columns)}</tr>"


def _cell(row: Row, column: Shown) -> str:
    value = column.take(row)
    if column.is_html:
        return f"<td>{value}</td>"
    if value is None:
        return "<td></td>"
    if isinstance(value, bool):
        return f"<td>{'yes' if value else 'no'}</td>"
    if isinstance(value, (int, float)):
        if isinstance(value, float) and _unit(column) != column.unit:
            value = now().value(value, column.unit)
        shown = f"{value:,}" if isinstance(value, int) else number(value, column.digits)
        return f'<td class="n" data-v="{value!r}">{shown}</td>'
    wide = ' class="w"' if len(str(value)) > WIDE_FROM else ""
    text = translated(str(value)) if column.heading in SENTENCES else value
    return f"<td{wide}>{words(text)}</td>"
