"""Our colour ramps: lightness falls evenly, so they also order in grey and to colour-blind eyes.

They are drawn in the perceptual space OKLab (Ottosson, 2020; matrices from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

INK, PAPER, QUIET = "#26323a", "#ffffff", "#9aa5ab"
LIGHTEST, DARKEST = 0.95, 0.30  # lightness of the ends of a ramp, 1 is white


@dataclass(frozen=True)
class Ramp:
    """A path through hues [deg] from the light end to the dark end, with its largest chroma."""

    light_hue_deg: float
    dark_hue_deg: float
    chroma: float

    def colours(self, count: int) -> list[str]:
        """`count` colours from light to dark, as #rrggbb."""
        if count == 1:
            return [self.at(0.55)]
        return [self.at(i / (count - 1)) for i in range(count)]

    def at(self, share: float) -> str:
        """The colour at a share of the way from the light end (0) to the dark end (1)."""
        lightness = LIGHTEST + (DARKEST - LIGHTEST) * share
        hue = math.radians(self.light_hue_deg + (self.dark_hue_deg - self.light_hue_deg) * share)
        chroma = self.chroma * (0.30 + 0.70 * math.sin(math.pi * min(0.95, share + 0.15)))
        while chroma > 0 and not _in_gamut(_linear(lightness, chroma, hue)):
            chroma -= 0.002
        return "#" + "".join(f"{_byte(v):02x}" for v in _linear(lightness, max(chroma, 0), hue))


GROUND = Ramp(100, 255, 0.13)  # K: straw to deep blue
PLUME = Ramp(85, -10, 0.17)  # concentration: cream to dark wine
CHANCE = Ramp(330, 285, 0.15)  # probability: pale rose to indigo


def _linear(lightness: float, chroma: float, hue: float) -> tuple[float, float, float]:
    """Linear sRGB of an OKLab colour, each from 0 to 1 where the screen can show it."""
    a, b = chroma * math.cos(hue), chroma * math.sin(hue)
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    medium = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    return (
        4.0767416621 * long - 3.3077115913 * medium + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * medium - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * medium + 1.7076147010 * short,
    )


def _in_gamut(colour: tuple[float, float, float]) -> bool:
    return all(-1e-4 <= v <= 1 + 1e-4 for v in colour)


def _byte(linear: float) -> int:
    """Byte of sRGB of a linear value (IEC 61966-2-1)."""
    value = min(1.0, max(0.0, linear))
    curved = 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1 / 2.4) - 0.055
    return round(255 * curved)
