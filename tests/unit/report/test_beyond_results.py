"""What is said of a plume that no result shows."""

import pytest

from geoprofile.report.beyond_results import only_possible, possible_in_words, rests_on_model

EXTENT = {"analyte": "TCE", "round": "R2", "criterion_ug_per_l": 900.0, "probability": 0.5}


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
    assert ("a quarter of ground so marked" in said) == bool(words)
    assert "a quarter" not in rests_on_model(EXTENT | {"probability": 0.1}, rows)


def extent(analyte, probability, surface="any depth"):
    """A row of `plume_extent`."""
    return {
        "analyte": analyte,
        "round": "R2",
        "probability": probability,
        "surface": surface,
    }


def test_a_plume_that_is_nowhere_likely_is_told_as_possible():
    """PCE has a likely extent, TCE only a possible one, at one elevation neither counts."""
    rows = [extent("TCE", 0.1), extent("PCE", 0.1), extent("PCE", 0.5)]
    rows += [extent("TCE", 0.5, "elevation"), extent("DCE", 0.1, "elevation")]
    assert [row["analyte"] for row in only_possible(rows)] == ["TCE"]


def test_what_is_possible_is_one_sentence_of_report_and_summary():
    """Criteria are written as elsewhere, and an area that is not known is left out."""
    row = extent("TCE", 0.1) | {"criterion_ug_per_l": 3e6, "area_m2": 1234.0}
    assert possible_in_words(row, "; so it is") == (
        "nowhere more likely than not above 3e6 ug/L; a chance of 10 % or more at some depth "
        "under 1,200 m2; so it is"
    )
    assert "depth" not in possible_in_words(row | {"area_m2": None})
