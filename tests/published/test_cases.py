"""Every case of the validation book: the numbers, sources and pass marks stand there alone.

Cases are in `geoprofile/validation/cases`; `geoprofile validate` runs the same ones.
"""

from __future__ import annotations

import pytest

from geoprofile.plugins.registry import plugins
from geoprofile.validation.book import cases
from geoprofile.validation.case import Case, run_case

# slow cases that need a library beside ours are quick enough here
CASES = [
    pytest.param(
        case,
        id=f"{case.topic}: {case.name}",
        marks=pytest.mark.calibration if case.is_slow and not case.needs else (),
    )
    for case in cases()
]


@pytest.mark.parametrize("case", CASES)
def test_case_of_the_book(case: Case) -> None:
    """Found lies within the pass mark, and so does the second route; a known miss is no farther."""
    line = run_case(case)
    if line.status == "not run":
        pytest.skip(line.note)
    told = f"{line.entry}: {line.found!r} for {line.reference!r}; {line.second}; {line.note}"
    assert line.status in ("pass", "known miss"), told


def test_every_method_has_a_case_of_its_own() -> None:
    """A method that joins brings a problem with a known answer."""
    used = " ".join(c.how for c in cases() if c.topic.startswith("k-") and not c.is_slow)
    missing = [n for n in plugins("methods") if not f" {used} ".replace(",", " ").count(f" {n} ")]
    assert not missing
