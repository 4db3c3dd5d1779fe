"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing import marks
from geoprofile.drawing.styles.classes import Look, Values, Words
from geoprofile.drawing.styles.colours import INK
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import RING, WordSymbols

GRADES: WordSymbols = {
    grade: (grade, Symbol("line", colour, INK, 0.2, depth_rings=True))
    for grade, colour in marks.GRADES.items()
}
LOOKS: Mapping[str, Look] = {
    "conductivity": Look(RING, Words("grade", GRADES)),
    "interval_conductivity": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "k_profile": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "lugeon": Look(RING, Values("lugeon", "K", "no value", "Lu")),
}
