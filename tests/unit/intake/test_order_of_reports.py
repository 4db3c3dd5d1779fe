"""Which of two reports of a laboratory is the later one: by day, else by number, else unknown."""

from __future__ import annotations

import pandas as pd
import pytest

from geoprofile.intake.reissues import DAY, REPORT, _in_order


@pytest.mark.parametrize(
    ("reports", "days", "order"),
    [
        (["R-10", "R-9"], [None, None], [1, 0]),
        (["R-9-1", "R-9"], [None, None], [1, 0]),
        ([None, None], ["2031-05-02", "2031-05-01"], [1, 0]),
        (["R-1", "R-2"], ["2031-05-02", "2031-05-01"], [1, 0]),  # days before numbers
        (["R-9", "R-9"], [None, None], None),  # twice the same
        (["R-9", None], [None, None], None),
        (["R-1", "R-2"], ["2031-05-02", None], None),  # they might contradict each other
    ],
)
def test_the_later_report_is_known_or_nothing_is_guessed(
    reports: list[str | None], days: list[str | None], order: list[int] | None
) -> None:
    """Rows from the earliest report to the latest."""
    assert _in_order(pd.DataFrame({REPORT: reports, DAY: days}), [0, 1]) == order
