"""How the GIS draws the layers of the product."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.drawing.styles.classes import Look, Values, Words
from geoprofile.drawing.styles.colours import INK, PAPER, QUIET
from geoprofile.drawing.styles.model import Symbol
from geoprofile.drawing.styles.shared import RING, WORK_BLUE, WordSymbols
from geoprofile.drawing.symbols import WARN

GRADES: WordSymbols = {
    "accepted": ("accepted", Symbol("line", WORK_BLUE, INK, 0.2, depth_rings=True)),
    "qualified": (
        "qualified",
        Symbol("line", WARN, INK, 0.2, depth_rings=True),
    ),
    "rejected": ("rejected", Symbol("line", PAPER, QUIET, 0.2, depth_rings=True)),
}
LOOKS: Mapping[str, Look] = {
    "conductivity": Look(RING, Words("grade", GRADES)),
    "interval_conductivity": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "k_profile": Look(RING, Values("k_m_per_s", "K", "no value", "m/s")),
    "lugeon": Look(RING, Values("lugeon", "K", "no value", "Lu")),
}
