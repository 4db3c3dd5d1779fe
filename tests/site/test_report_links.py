"""Every number class that the demonstration's report shows leads to the page that checks it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from geoprofile.validation.topics import PARTS, TOPICS, anchor
from tests.conftest import Command

# counts, ranks and rows are counted, not computed
COUNTED = {
    "Intervals", "Not detected", "Boreholes", "Tests", "Step", "Number", "Rank", "Rows", "Rounds",
    "Run", "Order", "How many", "Not detected of them", "Data", "Day",
    "Older than the latest sample by [d]", "Held [d]", "Allowed [d]",  # differences of two dates
}  # fmt: skip
TABLE = re.compile(r'<div class="table">(.*?)</table></div>(.*?)</div>', re.S)


@pytest.fixture(scope="module")
def report(demo_run: Path, command: Command, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of the demonstration."""
    page = tmp_path_factory.mktemp("page") / "report.html"
    answer = command("report", demo_run / "site.gpkg", page)
    assert answer.returncode == 0, answer.stderr
    return page.read_text(encoding="utf-8")


def bare(text: str) -> str:
    """A text without tags."""
    return " ".join(re.sub("<[^>]*>", "", text).split())


def numeric_headings(table: str) -> list[str]:
    """Headings of the columns that hold numbers."""
    head, body = table.split("</thead>")
    names = [bare(h) for h in re.findall(r"<button[^>]*>(.*?)</button>", head, re.S)]
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.S)
    cells = [re.findall(r"<td([^>]*)>", row) for row in rows]
    return [n for i, n in enumerate(names) if any('class="n"' in row[i] for row in cells)]


def test_every_numeric_column_names_its_page(report: str) -> None:
    """Below each table stand the pages, with the headings that each of them checks."""
    tables = [t for t in TABLE.findall(report) if "<caption>Checks: " not in t[0]]
    assert len(tables) > 15
    left = {}
    for table, after in tables:
        said = re.search(r'<p class="checked">(.*?)</p>', after, re.S)
        linked = bare(said.group(1)) if said else ""
        names = {re.sub(r" \[.*\]$", "", n) for n in numeric_headings(table) if n not in COUNTED}
        missing = {n for n in names if not re.search(rf"[(,] ?{re.escape(n)}[,)]", linked)}
        if missing:
            left[bare(table.split("</caption>")[0])] = missing
    assert left == {}


def test_every_drawing_and_sentence_of_numbers_names_its_pages(report: str) -> None:
    """Each part with numbers outside tables ends with the links of its topics."""
    shown = [name for name in PARTS if f'<section id="{name}"' in report]
    assert {"answer", "map", "profiles", "curves", "heads"} <= set(shown)
    for name in shown:
        inner = re.search(rf'<section id="{name}".*?</section>', report, re.S)
        assert inner
        for topic in PARTS[name] if "<svg" in inner.group() or "<li" in inner.group() else ():
            assert f'href="#{anchor(topic)}"' in inner.group(), (name, topic)


def test_every_link_to_a_page_arrives(report: str) -> None:
    """Each topic has one anchor in the appendix, and no link leads nowhere."""
    wanted = set(re.findall(r'href="#(proof[a-z]+)"', report))
    assert len(wanted) >= 12
    for name in wanted | {anchor(t) for t in TOPICS}:
        assert report.count(f'id="{name}"') == 1
