"""Sentences that several rows of a table share: told once, with a number in the rows."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from geoprofile.drawing.people import translated
from geoprofile.report.content import Row
from geoprofile.report.markup import listed, words
from geoprofile.report.tables import Shown

OFTEN = 3  # rows that share a sentence before it gets a number
# reasons between semicolons, and sentences; what stands in brackets stays together
PARTS = re.compile(r"(?:;\s+|(?<=\.)\s+(?=[A-Z]))(?![^(]*\))")


@dataclass(frozen=True)
class Repeats:
    """The sentences of one column; `letter` begins their numbers."""

    heading: str
    key: str
    letter: str
    numbers: dict[str, int]

    @property
    def column(self) -> Shown:
        """What is said of a row alone in words, what is said of several by number."""
        return Shown(self.heading, self._short)

    def _short(self, row: Row) -> str | None:
        said = parts_of(row[self.key])
        own = [part for part in said if part not in self.numbers]
        shared = sorted({self.numbers[part] for part in said if part in self.numbers})
        named = [", ".join(f"{self.letter}{n}" for n in shared)] if shared else []
        return "; ".join(part.rstrip(".") for part in [*own, *named]) or None

    def told(self, about: str) -> str:
        """The numbered sentences as a list; "" for none."""
        if not self.numbers:
            return ""
        lines = (f"{self.letter}{n}: {words(translated(part))}" for part, n in self.numbers.items())
        return f'<p class="keys-title">{about}</p>{listed(lines)}'


def repeats(rows: Sequence[Row], heading: str, key: str, letter: str) -> Repeats:
    """The sentences of a column, those of several rows numbered.

    Parameters
    ----------
    rows : sequence of dict
        Of the table.
    heading, key : str
        Of the column.
    letter : str
        Before the numbers, another for each column of a page.

    Returns
    -------
    Repeats
        Its column, and the list to stand beside the table.
    """
    return Repeats(heading, key, letter, repeated([str(row[key] or "") for row in rows]))


def repeated(notes: Sequence[str]) -> dict[str, int]:
    """Sentences that several rows share, the most frequent first, with a number for each."""
    counts = Counter(part for text in notes for part in dict.fromkeys(parts_of(text)))
    often = [part for part, count in counts.most_common() if count >= OFTEN]
    return {part: place for place, part in enumerate(often, start=1)}


def parts_of(text: str | None) -> list[str]:
    """A text cut into its reasons and sentences."""
    return [part.strip() for part in PARTS.split(text or "") if part.strip()]
