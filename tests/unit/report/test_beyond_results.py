"""What is said of a plume that no result shows."""

import pytest

from geoprofile.report.beyond_results import rests_on_model

EXTENT = {"analyte": "TCE", "round": "R2", "criterion_ug_per_l": 900.0}


def result(value, *, analyte="TCE", name="R2", medium="water"):
    """A row of `concentration`."""
    return {"analyte": analyte, "round": name, "medium": medium, "value_ug_per_l": value}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([result(440.0), result(12.0)], "the highest is 440 ug/L"),
        ([result(1234.5, name="R1"), result(899.9)], "the highest is 900 ug/L"),
        ([result(5000.0, medium="soil gas"), result(2.5, medium=None)], "the highest is 2.5 ug/L"),
        ([result(5000.0, analyte="PCE"), result(None)], "nothing was detected"),
        ([result(440.0), result(900.1)], ""),
    ],
)
def test_a_plume_above_all_results_is_said_to_rest_on_the_model(rows, words):
    """Other rounds, substances and soil gas are no result of it; one result above is enough."""
    said = rests_on_model(EXTENT, rows)
    assert (words in said) if words else (said == "")
    assert ("no result is above it" in said) == bool(words)
