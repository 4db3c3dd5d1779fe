"""The colours of the layers, which are those of every other drawing, and their letters."""

from __future__ import annotations

from geoprofile.drawing.symbols import CHANCE, GROUND, INK, PAPER, PLUME, Ramp

FONT = "Open Sans"  # of the layers and pages in the GIS; figures have their own
QUIET = "#9aa5ab"  # lines of a layer that stand behind others

__all__ = ["CHANCE", "FONT", "GROUND", "INK", "PAPER", "PLUME", "QUIET", "Ramp", "rgba"]


def rgba(colour: str) -> str:
    """`r,g,b,a` of #rrggbb; all transparent for ""."""
    if not colour:
        return "0,0,0,0"
    return ",".join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5)) + ",255"
