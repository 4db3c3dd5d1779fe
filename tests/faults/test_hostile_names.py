"""Names that are SQL, markup, formulas and paths go through every command as the text they are."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from pathlib import Path
from xml.etree import ElementTree

import pytest

from geoprofile.store import inspect

NAMES = {
    "A1": "'; DROP TABLE borehole; --",
    "A2": "<script>alert(1)</script>",
    "A3": "=HYPERLINK(A1)",
    "A4": "../../outside%s&",
    "TCE": '<img src=x onerror="alert(2)">',
    "made-up corner": "]]></script><b>&amp;",
}
MARKUP = ("<script>alert", "<img src=x", "]]></script><b>")


@pytest.fixture(scope="module")
def hostile(inputs, warm, tmp_path_factory) -> Path:
    """The small site under such names, run, reported, planned and handed over."""
    folder = tmp_path_factory.mktemp("hostile") / "below" / "site"
    shutil.copytree(inputs, folder)
    for path in [p for p in folder.iterdir() if p.is_file()]:
        rewrite(path)
    for path in list((folder / "readings").iterdir()):
        path.unlink()  # a name of a file cannot hold these names; one file for all tests can
    commands = (
        ("run", "."),
        ("report", "site.gpkg", "report.html"),
        ("plan", "site.gpkg", NAMES["A4"], "--folder", "plans"),
        ("handover", "site.gpkg", "package", "--formats", "geopackage,csv,geojson,sld"),
    )
    for words in commands:
        assert warm.run(words, folder) == 0, (words, warm.said.read_text())
    return folder


def rewrite(path: Path) -> None:
    """Put the hostile names into a table, cell by cell, or into site.toml."""
    if path.suffix == ".toml":
        name = json.dumps(NAMES["made-up corner"])
        path.write_text(path.read_text().replace('"made-up corner"', name))
        return
    with path.open(newline="") as file:
        header, *rows = list(csv.reader(file))
    shared = {"borehole", "analyte"}
    made = [
        [NAMES.get(c, c) if n in shared else c for n, c in zip(header, row, strict=True)]
        for row in rows
    ]
    if path.name == "tests.csv":
        made = []
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([header, *made])


def test_the_database_is_whole_and_holds_the_names(hostile):
    """No statement in a name was run, and every name is there letter by letter."""
    assert [f for f in inspect(hostile / "site.gpkg") if f.severity == "error"] == []
    connection = sqlite3.connect(hostile / "site.gpkg")
    found = {row[0] for row in connection.execute("SELECT borehole FROM borehole")}
    connection.close()
    assert found == {NAMES[n] for n in ("A1", "A2", "A3", "A4")}


def test_no_file_lies_outside_the_folder(hostile):
    """A name with dots and slashes makes no path."""
    top = hostile.parents[1]
    assert [p for p in top.rglob("*") if hostile not in (p, *p.parents)] == [top / "below"]


def test_pages_and_pictures_hold_the_names_as_text(hostile):
    """No markup of a name is markup of a page, and every picture is well-formed."""
    pages = [*hostile.rglob("*.html"), *hostile.rglob("*.svg"), *hostile.rglob("*.sld")]
    assert {p.suffix for p in pages} >= {".html", ".svg"}
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert [m for m in MARKUP if m in text] == [], page.name
        if page.suffix != ".html":
            ElementTree.fromstring(text)  # noqa: S314  our own page


def test_stored_styles_are_well_formed(hostile):
    """Styles that name an analyte or a borehole are read by a strict reader."""
    connection = sqlite3.connect(hostile / "site.gpkg")
    styles = connection.execute("SELECT styleQML, styleSLD FROM layer_styles").fetchall()
    connection.close()
    for style in [s for pair in styles for s in pair if s]:
        ElementTree.fromstring(style)  # noqa: S314  our own style


def test_tables_for_spreadsheets_hold_no_formula(hostile):
    """CWE-1236: no text of a handed-over table begins like a formula."""
    for path in (hostile / "package" / "csv").glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert [c for c in cells if c.startswith(("=", "@", "\t"))] == [], path.name
