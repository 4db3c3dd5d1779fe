"""Keep the figures of this machine with the program: `python -m geoprofile.validation`."""

from __future__ import annotations

from pathlib import Path

from geoprofile.validation.book import run_book
from geoprofile.validation.committed import FILE
from geoprofile.validation.page import as_csv, summary
from geoprofile.whole import write_text

if __name__ == "__main__":
    lines = run_book(slow=True)
    write_text(Path(__file__).with_name(FILE), as_csv(lines))
    print(summary(lines))
