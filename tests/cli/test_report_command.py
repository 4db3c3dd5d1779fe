"""The report through the real command and the real demonstration."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from geoprofile.report.saving import find_browser, write_pdf

Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def report(demo_run: Path, command: Command, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of the demonstration."""
    file = tmp_path_factory.mktemp("report") / "report.html"
    answer = command("report", demo_run / "site.gpkg", file)
    assert answer.returncode == 0, answer.stderr
    assert answer.stdout.strip() == str(file)
    return file


def test_report_holds_the_demonstration(report: Path) -> None:
    """Every borehole, the fields, the advice and the files with their sums are in the page."""
    text = report.read_text("utf-8")
    for words in (
        "14 boreholes",
        "Field of <bdi>K<",
        "How sure",
        "Next tests",
        "readings/hole_001.csv",
    ):
        assert words in text
    assert len(text.encode()) < 5_000_000


def test_report_is_not_overwritten_unasked(report: Path, demo_run: Path, command: Command) -> None:
    """Exit 2 until --overwrite."""
    before = report.stat().st_mtime_ns
    answer = command("report", demo_run / "site.gpkg", report)
    assert answer.returncode == 2
    assert "--overwrite" in answer.stderr
    assert report.stat().st_mtime_ns == before


def test_without_a_browser_pdf_says_what_to_do(
    report: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clear message where no browser is on the path."""
    from geoprofile.errors import UsageError

    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageError, match="print it to PDF"):
        write_pdf(report, report.with_suffix(".pdf"))


def test_pdf_is_printed_where_a_browser_is(report: Path) -> None:
    """A PDF of several pages; skipped where no browser is installed."""
    from geoprofile.errors import UsageError

    try:
        find_browser()
    except UsageError:
        pytest.skip("no browser on this system")
    file = write_pdf(report, report.with_suffix(".pdf"))
    assert file.read_bytes().startswith(b"%PDF-")
    assert file.stat().st_size > 20_000


def test_no_browser_is_taken_from_where_anybody_may_put_one(tmp_path, monkeypatch):
    """Not from the present folder, a relative entry of the path, or a folder open to all."""
    from geoprofile.errors import UsageError

    own, everybody = tmp_path / "own", tmp_path / "everybody"
    for folder in (own, everybody):
        folder.mkdir()
        (folder / "chromium").write_text("#!/bin/sh\n")
        (folder / "chromium").chmod(0o755)
    everybody.chmod(0o777)
    monkeypatch.chdir(own)
    for path in (str(own), ".", "", str(everybody)):
        monkeypatch.setenv("PATH", path)
        with pytest.raises(UsageError, match="no browser"):
            find_browser()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", str(own))
    assert find_browser() == str(own / "chromium")
