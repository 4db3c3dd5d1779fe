"""Three hands on one row: the office, and copies that were out in the field. Pure, no input.

Each cell goes by itself. What a copy holds is compared with what it was given (`base`), never with
the present value alone, so that any number of copies may come back in any order, and twice:

- a copy that did not change a cell says nothing of it;
- the office's own change of a cell is never written over;
- of copies that started from the same value, the one taken first has its value stored, whichever
  comes back first; every other value is told, and none is lost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Row = Mapping[str, Any]
WHOLE_ROW = "(row)"  # stands for a column where a row as a whole is meant
GONE = "(deleted)"


@dataclass
class Record:
    """What is known of one row of one copy.

    `base` is the row as it was given, None for a row that the copy has added; `brought` as it last
    came back. `put` has the values of this copy that were stored; `told` the columns that the copy
    changed otherwise, with the value that was kept then.
    """

    base: dict[str, Any] | None = None
    brought: dict[str, Any] | None = None
    put: dict[str, Any] = field(default_factory=dict)
    told: dict[str, Any] = field(default_factory=dict)

    def given(self, column: str) -> Any:
        """What the copy was given in a column."""
        return (self.base or {}).get(column)

    def holds(self, column: str) -> Any:
        """What the copy held when it last came back."""
        return (self.brought or {}).get(column, self.given(column))

    def claims(self, column: str) -> bool:
        """Whether the copy has changed the column."""
        return bool(self.holds(column) != self.given(column))


Records = dict[int, Record]


@dataclass(frozen=True)
class Disagreement:
    """One cell that two hands have changed: what is stored, and what a copy has."""

    column: str
    kept: Any
    copy: int
    other: Any


def bring_in(
    number: int, records: Records, office: Row | None, came: Row | None, *, is_whole: bool
) -> dict[str, Any] | None:
    """Bring a row of copy `number` in; the row to be stored, None where there is none.

    `records` are those of this row by copy, and are changed. `came` is the row as the copy has it,
    None where it has none; `is_whole` says whether the copy holds all that it was given, so that
    a row that is missing was deleted.
    """
    mine = records.setdefault(number, Record())
    if came is None:
        if is_whole and mine.base is not None and office is not None:
            mine.told[WHOLE_ROW] = GONE
        return None if office is None else dict(office)
    mine.told.pop(WHOLE_ROW, None)
    if office is None:
        return _without_office(mine, came)
    stored = dict(office)
    was_brought = mine.brought
    before = {c: mine.holds(c) for c in came}
    mine.brought = {**(mine.brought or mine.base or {}), **came}
    for column, value in came.items():
        if was_brought is not None and value == before[column]:
            continue
        if value != before[column] or mine.base is None:
            stored[column] = _settle(number, records, column, stored.get(column))
    return stored


def _without_office(mine: Record, came: Row) -> dict[str, Any] | None:
    """A row that the office does not have: new from the field, or deleted there meanwhile."""
    is_new = mine.base is None and mine.brought is None
    before = {c: mine.holds(c) for c in came}
    mine.brought = {**(mine.brought or mine.base or {}), **came}
    if is_new:
        mine.put = dict(came)
        return dict(came)
    for column, value in came.items():
        if value != before[column]:
            mine.told[column] = GONE
    return None


def _settle(number: int, records: Records, column: str, office: Any) -> Any:
    """What is stored in a cell after a copy came back with another value of it."""
    mine = records[number]
    given = mine.given(column)
    rivals = {n: r for n, r in records.items() if r.given(column) == given}
    is_ours = office == given or any(
        column in r.put and r.put[column] == office for r in rivals.values()
    )
    stored = office
    claiming = sorted(n for n, r in rivals.items() if r.claims(column) and r.brought is not None)
    if is_ours:
        stored = records[claiming[0]].holds(column) if claiming else given
        if claiming:
            records[claiming[0]].put[column] = stored
    _tell(number, records, column, office, stored)
    return stored


def _tell(number: int, records: Records, column: str, before: Any, stored: Any) -> None:
    """Keep in mind whose change of the cell is not what is stored."""
    for other, record in records.items():
        is_open = column in record.told and record.told[column] == before
        was_stored = record.holds(column) == before
        if record.brought is None or not record.claims(column) or record.holds(column) == stored:
            record.told.pop(column, None)
        elif other == number or is_open or was_stored:
            record.told[column] = stored


def disagreements(records: Records, office: Row | None) -> list[Disagreement]:
    """What is still to be decided: until the office has changed the cell once more."""
    found = []
    for number, record in sorted(records.items()):
        for column, kept in sorted(record.told.items()):
            if column == WHOLE_ROW:
                if office is not None:
                    found.append(Disagreement(column, "the row", number, GONE))
            elif office is None:
                found.append(Disagreement(column, GONE, number, record.holds(column)))
            elif office.get(column) == kept:
                found.append(Disagreement(column, kept, number, record.holds(column)))
    return found
