"""The validation book: every number has its page, every page its cases, and a miss is told."""

from __future__ import annotations

import ast
import csv
import re
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import geoprofile
from geoprofile.cli import cli
from geoprofile.errors import UsageError
from geoprofile.schema import TABLES
from geoprofile.validation import book
from geoprofile.validation.case import Case, Second, run_case
from geoprofile.validation.committed import kept, studies
from geoprofile.validation.topics import NUMBERS, TOPICS, anchor

REPORT = Path(geoprofile.__file__).parent / "report"
TESTS = Path(__file__).parents[2]
COUNTS = {
    "data_count", "nondetect_count", "borehole_count", "rank", "step", "run", "rows", "tests",
    "holes", "intervals", "inside", "data", "shares", "below",
    "age_d", "held_d", "holding_limit_d",  # differences of two dates
}  # fmt: skip
EASY = Case("easy", "units", "1 is 1", "none", "derived", (1.0,), lambda: [1.0], relative=1e-9)


def shown_columns() -> set[str]:
    """Columns that a table of the report shows, from its source."""
    found = set()
    for path in REPORT.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_field = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "field"
            if is_field and len(node.args) > 1 and isinstance(node.args[1], ast.Constant):
                found.add(str(node.args[1].value))
    return found


def test_every_number_of_the_report_has_its_page() -> None:
    """Whatever the schema calls a real number and the report shows is checked somewhere."""
    real = {c.name for t in TABLES.values() for c in t.columns if c.kind == "real"}
    assert shown_columns() & real - set(NUMBERS) - COUNTS == set()
    assert set(NUMBERS.values()) <= set(TOPICS)
    assert set(TOPICS) == {c.topic for c in book.cases() if not c.is_slow}


def test_sources_from_memory_take_a_second_route() -> None:
    """Or they name a case of the same numbers that has one, or an answer that is derived."""
    by_name = {c.name: c for c in book.cases()}
    bare = [c for c in by_name.values() if c.basis == "from memory" and c.second is None]
    beside = [by_name.get(c.beside) for c in bare]
    lonely = [
        c.name
        for c, b in zip(bare, beside, strict=True)
        if b is None or not (b.second or b.basis == "derived") or b.known_miss
    ]
    assert lonely == []


def test_every_case_says_how_its_numbers_come_about() -> None:
    """What of the program computes it, a label for each entry, a pass mark in words."""
    for case in book.cases():
        assert case.how, case.name
        assert case.source, case.name
        assert case.labels == () or len(case.labels) == len(case.reference), case.name
        assert not isinstance(case.absolute, tuple) or len(case.absolute) == len(case.reference)


def test_figures_kept_are_those_of_the_book() -> None:
    """`python -m geoprofile.validation` was run since the last case came, the slow half too."""
    assert set(kept()) == {c.name for c in book.cases()}
    assert {row["status"] for row in kept().values()} == {"pass", "known miss"}


def marked_tests() -> set[str]:
    """File and name of every test that runs on request as a calibration or beside a peer."""
    found = set()
    for path in TESTS.rglob("test_*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        whole = [ast.unparse(n) for n in tree.body if isinstance(n, ast.Assign)]
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                marks = [*(ast.unparse(d) for d in node.decorator_list)]
                marks += [w for w in whole if w.startswith("pytestmark")]
                if re.search(r"mark\.(calibration|bench)\b", " ".join(marks)):
                    found.add(f"tests/{path.relative_to(TESTS).as_posix()} -k {node.name}")
    return found


def test_every_long_study_is_listed_and_no_figure_is_without_its_place() -> None:
    """The list has each marked test; a figure says when and where it was written down."""
    listed = {
        s.command.split(" -m ")[-1].split(" ", 1)[1] for s in studies() if " -k " in s.command
    }
    assert listed == marked_tests()
    for study in studies():
        assert study.topic in (*TOPICS, "program")
        assert bool(study.figure) == bool(study.recorded_on) == bool(study.recorded_in)


@pytest.mark.parametrize(
    ("case", "status"),
    [
        (EASY, "pass"),
        (replace(EASY, found=lambda: [1.01]), "fail"),
        (replace(EASY, found=lambda: [float("nan")]), "fail"),
        (replace(EASY, found=lambda: [1.0, 1.0]), "fail"),
        (replace(EASY, found=lambda: 1 / 0), "fail"),
        (replace(EASY, inside=(0.9, 1.2), found=lambda: [1.19]), "pass"),
        (replace(EASY, inside=(0.9, 1.2), found=lambda: [1.21]), "fail"),
        (replace(EASY, second=Second("other", lambda: [1.1], 0.01)), "fail"),
        (replace(EASY, relative=0.0, absolute=(0.2,), found=lambda: [1.1]), "pass"),
        (replace(EASY, relative=0.0, absolute=(0.05,), found=lambda: [1.1]), "fail"),
        (replace(EASY, relative=0.0), "pass"),
        (replace(EASY, relative=0.0, found=lambda: [1.0 + 1e-9]), "fail"),
        (replace(EASY, needs=("no-such-distribution",)), "not run"),
        (
            replace(EASY, found=lambda: [1.05], known_miss="is off", miss_relative=0.06),
            "known miss",
        ),
        (replace(EASY, found=lambda: [1.08], known_miss="is off", miss_relative=0.06), "fail"),
    ],
)
def test_verdicts(case: Case, status: str) -> None:
    """A miss, a crash, a wrong count and a second route that differs are failures."""
    assert run_case(case).status == status


def test_command_writes_page_and_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page with anchors, a CSV, exit 1 and the line that failed; wrong names are refused."""
    wrong = replace(EASY, name="wrong", found=lambda: [2.0])
    monkeypatch.setattr(book, "cases", lambda: (EASY, wrong))
    page = tmp_path / "v.html"
    answer = CliRunner().invoke(cli, ["validate", str(page)])
    assert answer.exit_code == 1
    assert "units: wrong: fail" in answer.output
    text = page.read_text("utf-8")
    assert f'id="{anchor("units")}"' in text
    assert re.search(r'class="fail" id="wrong"', text)
    rows = list(csv.DictReader((tmp_path / "v.csv").read_text("utf-8").splitlines()))
    assert [r["status"] for r in rows] == ["pass", "fail"]
    for name, what in (
        (page, "--overwrite"),
        (tmp_path / "v.pdf", "html"),
        (tmp_path / "no/v.html", "folder"),
    ):
        refused = CliRunner().invoke(cli, ["validate", str(name)]).exception
        assert isinstance(refused, UsageError)
        assert what in str(refused)
