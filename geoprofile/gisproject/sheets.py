"""The sheets of pages: laid out on A3 and A4, set on those that site.toml asks for.

Sizes: ISO 216; ANSI/ASME Y14.1 sizes A (US Letter) and B, both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from geoprofile.drawing import people
from geoprofile.gisproject.scales import Place


@dataclass(frozen=True)
class Sheet:
    """A sheet, and the one of the same kind on which positions were laid out [mm]."""

    name: str
    width_mm: float
    height_mm: float
    laid_out_mm: tuple[float, float]

    def place(self, place: Place) -> Place:
        """A place that was laid out, on this sheet: the same shares of it."""
        x, y, width, height = place
        across, down = self.width_mm / self.laid_out_mm[0], self.height_mm / self.laid_out_mm[1]
        return x * across, y * down, width * across, height * down


A3, A4 = (420.0, 297.0), (210.0, 297.0)  # across, upright
LETTER, TWO_LETTERS = (215.9, 279.4), (431.8, 279.4)


def plan_sheet() -> Sheet:
    """The sheet of the plan, across."""
    if people.now().paper == "US Letter":
        return Sheet("11 x 17 in", *TWO_LETTERS, A3)
    return Sheet("A3", *A3, A3)


def borehole_sheet() -> Sheet:
    """The sheet of a borehole, upright."""
    if people.now().paper == "US Letter":
        return Sheet("US Letter", *LETTER, A4)
    return Sheet("A4", *A4, A4)
