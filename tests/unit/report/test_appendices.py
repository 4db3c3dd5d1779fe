"""What paper spares: columns that say the same in every row, sentences of several rows."""

from __future__ import annotations

import dataclasses
import re

from geoprofile.report import page
from geoprofile.report.repeats import parts_of, repeats
from geoprofile.report.tables import SAME_FROM, coordinate, field, table

LONG = "no pressure was read outside the zone (bypass; leak). Level from the table"


def rows_of(count):
    return [{"a": f"x{n}", "run": "run 2", "why": LONG, "x_m": 512341.104} for n in range(count)]


def test_a_column_that_says_one_thing_is_told_once_on_paper():
    """On the screen it stays, and short tables keep all columns."""
    columns = [field("A", "a"), field("Run", "run")]
    long, few = (table("t", columns, rows_of(n)) for n in (SAME_FROM, SAME_FROM - 1))
    assert "In every row: Run: <bdi>run 2</bdi>." in long
    assert '<table class="spare2">' in long
    assert long.count("<bdi>run 2</bdi>") == SAME_FROM + 1
    assert "spare2" not in few


def test_sentences_of_several_rows_are_numbered_and_listed():
    """What stands in brackets is not cut."""
    assert parts_of(LONG) == [
        "no pressure was read outside the zone (bypass; leak).",
        "Level from the table",
    ]
    found = repeats([*rows_of(3), {"why": "own"}], "Why", "why", "W")
    assert found.column.take(rows_of(1)[0]) == "W1, W2"
    assert found.column.take({"why": "own"}) == "own"
    assert "W2: <bdi>Level from the table</bdi>" in found.told("about")


def test_coordinates_are_never_rounded_to_powers():
    """A rig is set up by them."""
    assert ">512341.10<" in table("t", [coordinate("Easting", "x_m", "m")], rows_of(1))


def test_no_tag_of_html_ends_a_drawing(report_site):
    """A power of ten in a drawing stands in plain characters, whatever the values."""
    changed = report_site.table("round_change").copy()
    changed["value_before_ug_per_l"] = 4e6
    site = dataclasses.replace(report_site, tables={**report_site.tables, "round_change": changed})
    drawings = re.findall(r"<svg.*?</svg>", page(site), re.S)
    assert len(drawings) > 20
    for drawing in drawings:
        assert not re.search(r"<(sup|sub|bdi|strong|span|p|br|code|b)\b", drawing)
