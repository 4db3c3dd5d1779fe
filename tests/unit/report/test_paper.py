"""The report on paper: every substance, who answers for it, numbers of pages, or no file at all."""

import dataclasses
import re
import shutil
import subprocess

import pytest

from geoprofile.errors import UsageError
from geoprofile.report import page
from geoprofile.report.repeats import repeated
from geoprofile.report.saving import BROWSERS, is_whole, write_both, write_report
from geoprofile.report.signature import page_style

SIGNED = {"author": "A. Dey", "checked_by": "B. Orr", "revision": "2", "status": "draft"}


@pytest.fixture(scope="module")
def signed(report_site):
    """The ordinary site, with a title block."""
    return dataclasses.replace(report_site, settings={"document": SIGNED})


@pytest.fixture(scope="module")
def signed_text(signed):
    """Its page, made once."""
    return page(signed)


def test_paper_shows_map_and_sections_of_each_quantity(signed_text):
    """One sheet for each, with nothing that asks to be pressed."""
    paper = signed_text.split('<div class="on-paper"')[1].split('<section id="quality"')[0]
    for quantity in ("toluene", "naphthalene", "chromium", "K"):
        assert f"<bdi>{quantity}</bdi>: map and sections" in paper
    assert paper.count('class="sheet of-2') == 4
    assert not re.search(r'tabindex|data-hole|data-quantity|class="off"', paper)


def test_the_page_says_who_answers_for_it(signed, report_site, signed_text, report_text):
    """Or that nobody does."""
    text = signed_text
    assert all(words in text for words in SIGNED.values())
    assert "draft, revision 2" in page_style(signed)
    assert "Not signed" not in text
    assert "Not signed" in report_text
    assert "status not stated" in page_style(report_site)


def test_a_name_cannot_leave_the_style_sheet(report_site):
    """Quotes, braces and tags of a name stand there by their numbers."""
    bad = dataclasses.replace(report_site, name='a"}</style><script>é')
    style = page_style(bad)
    assert "</style>" not in style
    assert style.count('"') == 6  # three texts
    assert "\\e9 " in style


def test_reasons_of_several_tests_are_told_once():
    """The most frequent first; what one test alone has stays in words."""
    notes = ["no pressure outside; level from table"] * 5 + ["no pressure outside; own", ""]
    assert repeated(notes) == {"no pressure outside": 1, "level from table": 2}


def test_half_a_file_is_no_pdf(tmp_path):
    """A file that ends too early, an empty one and none at all are refused."""
    file = tmp_path / "x.pdf"
    assert not is_whole(file)
    for data, whole in ((b"", False), (b"%PDF-1.7\n...", False), (b"%PDF-1.7\n%%EOF\n", True)):
        file.write_bytes(data)
        assert is_whole(file) is whole


def test_without_a_browser_nothing_is_written(signed, tmp_path, monkeypatch):
    """Neither PDF nor page."""
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageError, match="--pdf"):
        write_both(signed, tmp_path / "report.html")
    assert not list(tmp_path.iterdir())


def test_a_browser_that_prints_half_leaves_nothing(signed, tmp_path, monkeypatch):
    """A program that stops in the middle of the file."""
    from geoprofile.errors import DiskError

    tools = tmp_path / "tools"
    tools.mkdir()
    browser = tools / "chromium"
    browser.write_text(
        '#!/bin/sh\nfor a in "$@"; do case "$a" in --print-to-pdf=*) '
        'printf "%%PDF-1.7" > "${a#--print-to-pdf=}";; esac; done\n'
    )
    browser.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tools}:/bin:/usr/bin")
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(DiskError, match="no whole file"):
        write_both(signed, out / "report.html")
    assert not list(out.iterdir())


@pytest.mark.skipif(
    not (any(map(shutil.which, BROWSERS)) and shutil.which("pdftotext")),
    reason="takes a browser and pdftotext",
)
def test_a_real_browser_numbers_the_pages_and_prints_every_substance(signed, tmp_path):
    """As text on paper: name, status and number on every page."""
    _, pdf = write_both(signed, tmp_path / "report.html")
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    sheets = text.split("\f")[:-1]
    for number, sheet in enumerate(sheets, start=1):
        assert re.search(rf"draft, revision 2\s+Page {number} of {len(sheets)}", sheet)
    for quantity in ("toluene", "naphthalene", "chromium", "K"):
        assert f"{quantity}: map and sections" in text
    assert summary_pages(sheets) <= 6
    assert write_report(signed, tmp_path / "again.html").read_text("utf-8")


def summary_pages(sheets):
    """Pages before the one that begins the appendices."""
    return next(n for n, sheet in enumerate(sheets) if re.search("^ *Appendices$", sheet, re.M))


@pytest.mark.calibration
@pytest.mark.skipif(
    not (any(map(shutil.which, BROWSERS)) and shutil.which("pdftotext")),
    reason="takes a browser and pdftotext",
)
@pytest.mark.parametrize("substances", [5, 8, 11])
def test_the_summary_of_many_substances_is_six_pages(tmp_path, site_with, substances):
    """Those beyond get smaller maps; all stand in full among the appendices."""
    names = tuple(f"compound {n}" for n in range(substances))
    site = dataclasses.replace(site_with(names), settings={"document": SIGNED})
    _, pdf = write_both(site, tmp_path / "report.html")
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert summary_pages(text.split("\f")) <= 6
    for name in names:
        assert text.count(f"{name}: map and sections") == 2


def test_every_test_has_its_curve_with_set_up_and_budget(signed, signed_text):
    """Readings that were fitted are full dots, the others open; four readings here."""
    figures = signed_text.split('id="curves"')[1].split("</section>")[0].split("<figure")[1:]
    rows = signed.table("conductivity")
    assert len(figures) == rows["preferred"].sum()
    for figure in figures:
        assert figure.count('class="read"') == 3
        assert figure.count('class="unread"') == 1
        assert figure.count('class="fit"') == 1
        assert all(words in figure for words in ("H0 0.61 m", "riser radius</bdi> 80 %", "K "))


def test_cross_validation_shows_each_value_left_out(signed, signed_text):
    """A value within its interval is a full dot: here all are."""
    figure = signed_text.split('class="profiles scatter"')[1].split("</figure>")[0]
    count = len(signed.table("held_out"))
    assert figure.count('class="read"') == count
    assert f"{count} of {count} values inside their 80 % interval" in figure


def test_what_changed_since_the_run_before_is_told(signed_text):
    """4000 of 5000 is 20 % less."""
    changed = signed_text.split('id="changes"')[1].split("</section>")[0]
    assert "plume area m2" in changed
    assert "-20 %" in changed
