"""How rows of a file differ from those of the database, told row by row up to three."""

from __future__ import annotations

import pandas as pd

from geoprofile.intake.differing import counts, differences


def readings(heads: list[float]) -> pd.DataFrame:
    """A recovery, a reading a second."""
    rows = [("T1", k, float(k), head) for k, head in enumerate(heads)]
    return pd.DataFrame(rows, columns=["test", "number", "elapsed_s", "displacement_m"])


def test_the_first_three_rows_are_told_and_the_rest_counted() -> None:
    """Five of six readings differ: three in words, two as a number."""
    told = counts("T1", readings([1.0] * 6), readings([1.0, *[0.5] * 5]), "reading")
    assert told.startswith("the file has 6 rows, the database 6; ")
    assert told.count("displacement_m is 1 in the file, 0.5 here") == 3
    assert told.endswith("2 more rows of this test differ")


def test_three_rows_are_told_and_nothing_more() -> None:
    """A count of none is not said; a row of one side is."""
    told = counts("T1", readings([1.0] * 4), readings([1.0, 0.5, 0.5]), "reading")
    assert "more rows" not in told
    assert told.endswith("number 3 is only in the file")


def test_rows_that_are_alike_say_nothing() -> None:
    """An empty cell is nothing, however it is written."""
    assert differences({"test": "T1", "own": None}, {"test": "T1"}, "reading") == ""
