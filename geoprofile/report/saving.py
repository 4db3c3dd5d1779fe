"""The report as a file, and as a PDF through a browser that is installed."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.errors import DiskError, UsageError
from geoprofile.report.page import page
from geoprofile.whole import whole_file, write_text

if TYPE_CHECKING:
    from geoprofile.site import Site

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
SECONDS = 120
OPTIONS = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)


def write_report(site: Site, file: Path, *, overwrite: bool = False) -> Path:
    """Write the report.

    Raises
    ------
    UsageError
        A file that is there already.
    DiskError
        The disk or folder refuses.
    """
    _check_free(file, overwrite)
    text = page(site)
    write_text(file, text)
    return file


def write_pdf(report: Path, file: Path, *, overwrite: bool = False) -> Path:
    """Print a report to a PDF through a browser without a window.

    Raises
    ------
    UsageError
        No browser that prints, or a file that is there already.
    DiskError
        The browser printed nothing.
    """
    _check_free(file, overwrite)
    browser = find_browser()
    with tempfile.TemporaryDirectory() as work:
        printed = Path(work) / "report.pdf"
        command = _command(browser, Path(work) / "profile", printed, report)
        said = _run(command, work)
        if not is_whole(printed):
            raise DiskError(
                str(file),
                f"that {Path(browser).name} printed no whole file: {said}",
                "a PDF",
                f"Open {report.name} in a browser and print it from there.",
            )
        with whole_file(file) as beside:
            shutil.copyfile(printed, beside)
    return file


def write_both(site: Site, file: Path, *, overwrite: bool = False) -> tuple[Path, Path]:
    """Write the report as a page and as a PDF, or neither.

    Raises
    ------
    UsageError
        No browser that prints, or a file that is there already: told before the work begins.
    DiskError
        The browser printed nothing.
    """
    pdf = file.with_suffix(".pdf")
    for one in (file, pdf):
        _check_free(one, overwrite)
    find_browser()
    with tempfile.TemporaryDirectory() as work:
        draft = write_report(site, Path(work) / file.name)
        printed = write_pdf(draft, draft.with_suffix(".pdf"))
        with whole_file(file) as page_beside, whole_file(pdf) as pdf_beside:
            shutil.copyfile(draft, page_beside)
            shutil.copyfile(printed, pdf_beside)
    return file, pdf


def _run(command: Sequence[str], folder: str) -> str:
    """Run the browser in a folder of our own; the end of what it said."""
    try:
        result = subprocess.run(  # noqa: S603  our own options, a file of ours
            command, capture_output=True, text=True, timeout=SECONDS, check=False, cwd=folder
        )
    except subprocess.TimeoutExpired:
        return f"it did not end within {SECONDS} s"
    return result.stderr.strip()[-300:]


def is_whole(file: Path) -> bool:
    """Whether a file begins and ends as a PDF does (ISO 32000-1, 7.5.2 and 7.5.5; from memory)."""
    if not file.is_file():
        return False
    data = file.read_bytes()
    return data.startswith(b"%PDF-") and b"%%EOF" in data[-1024:]


def find_browser() -> str:
    """The first browser found that can print a page to PDF; UsageError where there is none."""
    for name in BROWSERS:
        for folder in _safe_folders():
            found = shutil.which(str(folder / name))
            if found:
                return found
    raise UsageError(
        "--pdf",
        "no browser that prints without a window",
        f"one of {', '.join(BROWSERS)} on the path, in a folder that not everybody can write",
        "Install one, or open the HTML report in your browser and print it to PDF from there.",
    )


def _safe_folders() -> Iterator[Path]:
    """Folders of the path, but for the present one and those into which anybody may put a file."""
    for text in os.environ.get("PATH", os.defpath).split(os.pathsep):
        folder = Path(text)
        try:
            mode = folder.stat().st_mode
        except (OSError, ValueError):
            continue
        is_open = sys.platform != "win32" and mode & stat.S_IWOTH
        if folder.is_absolute() and folder.resolve() != Path.cwd().resolve() and not is_open:
            yield folder


def _command(browser: str, profile: Path, printed: Path, report: Path) -> Sequence[str]:
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    return [
        browser,
        *OPTIONS,
        *root,
        f"--user-data-dir={profile}",
        f"--print-to-pdf={printed}",
        report.resolve().as_uri(),
    ]


def _check_free(file: Path, overwrite: bool) -> None:
    if file.exists() and not overwrite:
        raise UsageError(
            str(file), "a file of that name", "a new name", "Choose another or use --overwrite."
        )
