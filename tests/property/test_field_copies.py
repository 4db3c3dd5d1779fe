"""Copies that were out in the field come back: nothing is lost, whatever the order."""

from __future__ import annotations

import copy
import os
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.fieldcopy.merging import GONE, Record, Records, bring_in, disagreements

HISTORIES = int(os.environ.get("HISTORIES", "10000"))
COLUMNS = ("depth", "remarks", "date")
VALUES = st.sampled_from([None, 1.0, 2.0, 3.0])
ROWS = st.fixed_dictionaries(dict.fromkeys(COLUMNS, VALUES))
EDITS = st.dictionaries(st.sampled_from(COLUMNS), VALUES, max_size=3)


@st.composite
def histories(draw: Any) -> tuple[Any, ...]:
    """A row, an office's edits, up to four copies' edits, two orders in which they come back."""
    base = draw(st.one_of(ROWS, st.none()))
    count = draw(st.integers(1, 4))
    office = {**(base or {}), **draw(EDITS)} if base is not None or draw(st.booleans()) else None
    if base is None and office is not None:
        office = {**dict.fromkeys(COLUMNS), **office}
    copies = {}
    for number in range(1, count + 1):
        row = {**(base or dict.fromkeys(COLUMNS)), **draw(EDITS)}
        copies[number] = row
    order = st.lists(st.sampled_from(sorted(copies)), max_size=4).map(lambda more: more)
    first = draw(st.permutations(sorted(copies))) + draw(order)
    second = draw(st.permutations(sorted(copies))) + draw(order)
    return base, office, copies, first, second


def replay(base: Any, office: Any, copies: Any, order: Any) -> tuple[Any, Records]:
    """Bring the copies in, in that order."""
    records: Records = {n: Record(base=copy.copy(base)) for n in copies}
    row = copy.copy(office)
    for number in order:
        row = bring_in(number, records, row, copies[number], is_whole=True)
    return row, records


def check(history: tuple[Any, ...]) -> None:
    """The same in both orders; every change is stored or told; the office's own stays."""
    base, office, copies, first, second = history
    row, records = replay(base, office, copies, first)
    other, others = replay(base, office, copies, second)
    assert row == other
    told = disagreements(records, row)
    assert told == disagreements(others, other)
    start = base or {}
    for number, came in copies.items():
        for column, value in came.items():
            if value == start.get(column):
                continue
            kept = row is not None and row.get(column) == value
            assert kept or any((d.copy, d.column, d.other) == (number, column, value) for d in told)
    for column in COLUMNS if office is not None else ():
        if office.get(column) != start.get(column):
            assert row[column] == office[column]
        elif all(c.get(column) == start.get(column) for c in copies.values()):
            assert row[column] == office[column]


@settings(max_examples=200, deadline=None)
@given(histories())
def test_any_order_and_twice_is_the_same(history: tuple[Any, ...]) -> None:
    """A few hundred histories."""
    check(history)


@pytest.mark.calibration
def test_any_order_ten_thousand_times() -> None:
    """As many as HISTORIES says."""
    settings(max_examples=HISTORIES, deadline=None)(given(histories())(check))()


def test_cases_one_can_follow() -> None:
    """Two columns merge; one column changed twice is told once, with both values."""
    base = {"depth": 1.0, "remarks": "a"}
    records: Records = {1: Record(base), 2: Record(base)}
    row = bring_in(2, records, base, {"depth": 2.0, "remarks": "a"}, is_whole=True)
    row = bring_in(1, records, row, {"depth": 1.0, "remarks": "b"}, is_whole=True)
    assert row == {"depth": 2.0, "remarks": "b"}
    assert disagreements(records, row) == []
    row = bring_in(1, records, row, {"depth": 3.0, "remarks": "b"}, is_whole=True)
    assert row["depth"] == 3.0
    (told,) = disagreements(records, row)
    assert (told.copy, told.kept, told.other) == (2, 3.0, 2.0)
    row["depth"] = 2.5  # the office decides
    assert disagreements(records, row) == []
    row = bring_in(2, records, row, {"depth": 2.0, "remarks": "a"}, is_whole=True)
    assert row["depth"] == 2.5
    assert disagreements(records, row) == []


def test_rows_deleted_and_added() -> None:
    """A row deleted in the field stays and is told; one deleted in the office does not come back,
    but what the field wrote into it is told.
    """
    base = {"depth": 1.0}
    records: Records = {1: Record(base)}
    assert bring_in(1, records, base, None, is_whole=True) == base
    assert disagreements(records, base)[0].other == GONE
    records = {1: Record(base)}
    assert bring_in(1, records, base, None, is_whole=False) == base
    assert disagreements(records, base) == []
    assert bring_in(1, records, None, {"depth": 2.0}, is_whole=True) is None
    (told,) = disagreements(records, None)
    assert (told.kept, told.other) == (GONE, 2.0)
