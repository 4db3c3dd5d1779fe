"""The symbols of the program as data: every figure, layer, raster and page takes its look here.

Ramps are drawn in the perceptual space OKLab (Ottosson, 2020; matrices from memory): lightness
falls evenly, so they also order in grey and to colour-blind eyes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

INK, PAPER, QUIET, FAINT = "#26323a", "#ffffff", "#6d747c", "#c9ced3"
WATER, WARN, STOP, GROUND_LINE, EDGE = "#1f6f8b", "#d9902f", "#7d2248", "#6b4f2a", "#111111"
PROPOSED = "#f2d24b"
BELOW = "#f6f7f4"  # ground where a substance lies below its limit: hardly darker than paper
LIGHTEST, DARKEST = 0.95, 0.30  # lightness of the ends of a ramp, 1 is white
BELOW_GAP = 0.09  # share of a ramp left out, so that the first class differs from `BELOW` in grey
MM_PER_POINT = 25.4 / 72.0
PX_PER_MM = 96.0 / 25.4  # of a page on a screen (CSS Values and Units, reference pixel)

# Areas from the lowest to the topmost: what is closed to drilling is never covered by another.
AREA_ORDER = ("site", "source", "no drilling")


def area_kind(kind: object) -> str:
    """The kind of an area that a drawing knows; "site" for one that is not named."""
    return str(kind) if kind in AREA_ORDER else AREA_ORDER[0]


@dataclass(frozen=True)
class Ramp:
    """A path through hues [deg] from the light end to the dark end, with its largest chroma."""

    light_hue_deg: float
    dark_hue_deg: float
    chroma: float

    def colours(self, count: int, *, start: float = 0.0) -> list[str]:
        """`count` colours from light to dark, as #rrggbb, from a share of the ramp on."""
        if count == 1:
            return [self.at(0.55)]
        return [self.at(start + (1 - start) * i / (count - 1)) for i in range(count)]

    def at(self, share: float) -> str:
        """The colour at a share of the way from the light end (0) to the dark end (1)."""
        lightness = LIGHTEST + (DARKEST - LIGHTEST) * share
        hue = math.radians(self.light_hue_deg + (self.dark_hue_deg - self.light_hue_deg) * share)
        chroma = self.chroma * (0.30 + 0.70 * math.sin(math.pi * min(0.95, share + 0.15)))
        while chroma > 0 and not _in_gamut(_linear(lightness, chroma, hue)):
            chroma -= 0.002
        return "#" + "".join(f"{_byte(v):02x}" for v in _linear(lightness, max(chroma, 0), hue))


GROUND = Ramp(100, 255, 0.13)  # K and transmissivity: straw to deep blue
PLUME = Ramp(85, -10, 0.17)  # concentration and mass flux: cream to dark wine
CHANCE = Ramp(330, 285, 0.15)  # probability: pale rose to indigo
DOUBT = Ramp(250, 250, 0.015)  # spread: grey, for it is no amount
GROUND_QUANTITIES = ("K", "T")


def ramp_of(quantity: str, statistic: str = "median") -> Ramp:
    """The ramp of a quantity and statistic."""
    if statistic.startswith("prob"):
        return CHANCE
    if statistic in ("spread", "sd"):
        return DOUBT
    return GROUND if quantity in GROUND_QUANTITIES else PLUME


def class_colours(quantity: str, statistic: str, count: int) -> list[str]:
    """A colour for each of `count` classes: below the first level, between levels, above the last.

    Parameters
    ----------
    quantity, statistic : str
        K, T or a substance; median, low, high, spread or probability.
    count : int
        One more than there are levels.

    Returns
    -------
    list of str
        From light to dark, as #rrggbb. What lies below the limit of a substance has the colour of
        hardly anything; classes that cannot be told apart, such as above 100 %, share a colour.
    """
    ramp = ramp_of(quantity, statistic)
    if count < 2:
        return ramp.colours(max(count, 0)) if count else []
    if ramp is PLUME:
        return [BELOW, *ramp.colours(count - 1, start=BELOW_GAP)]
    if ramp is CHANCE and count > 2:
        inner = ramp.colours(count - 2)
        return [inner[0], *inner, inner[-1]]
    return ramp.colours(count)


@dataclass(frozen=True)
class Line:
    """A line: its width and its dashes; dashes and gaps are given in widths, none for solid."""

    width_mm: float
    dashes: tuple[float, ...] = ()
    colour: str = EDGE

    @property
    def points(self) -> float:
        """Width for a drawing on paper [point]."""
        return round(self.width_mm / MM_PER_POINT, 2)

    @property
    def dashes_mm(self) -> tuple[float, ...]:
        """Dashes and gaps [mm]."""
        return tuple(round(d * self.width_mm, 3) for d in self.dashes)

    @property
    def on_off(self) -> str | tuple[float, tuple[float, ...]]:
        """The dashes as a figure takes them: multiples of the width."""
        return (0.0, self.dashes) if self.dashes else "solid"

    @property
    def px(self) -> float:
        """Width on a screen."""
        return round(self.width_mm * PX_PER_MM, 2)

    @property
    def svg(self) -> str:
        """Attributes of a stroke in a page."""
        dashes = " ".join(f"{d * self.px:.3g}" for d in self.dashes)
        told = f' stroke-dasharray="{dashes}"' if dashes else ""
        return f'stroke="{self.colour}" stroke-width="{self.px:g}"{told}'


DASHES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "solid": (),
        "dash": (5.0, 2.0),
        "dot": (1.2, 1.8),
        "dash dot": (8.0, 3.0, 2.0, 3.0),
        "dash dot dot": (8.0, 2.0, 1.5, 2.0, 1.5, 2.0),
    }
)
# The edge of what is likelier than not is the strongest line everywhere, the others keep apart.
PROBABILITY_DASH: Mapping[float, str] = MappingProxyType({0.1: "dot", 0.5: "solid", 0.9: "dash"})
PROBABILITY_LINES: Mapping[float, Line] = MappingProxyType(
    {p: Line(0.6 if p == 0.5 else 0.35, DASHES[d]) for p, d in PROBABILITY_DASH.items()}
)


def exceedance_words(probability: float, criterion: str = "the criterion") -> str:
    """What the legend says of the edge of a plume."""
    return f"{100 * probability:.0f} % probability of exceeding {criterion}"


SHOWN_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "ug/L": "µg/L",
        "ug/m3": "µg/m³",
        "m2": "m²",
        "m3": "m³",
        "m2/s": "m²/s",
        "g/m2/d": "g/m²/d",
        "degC": "°C",
        "deg": "°",
    }
)
SUPERSCRIPTS = {"2": "²", "3": "³"}
WHOLE_UNITS = ("m2", "m3", "ft2", "ft3", "m²", "m³")  # of ground: read as 210,000 in the text
POWERS_OF_TEN = ("m/s", "m2/s", "m²/s")


PROPOSAL_LETTERS = {"next_test": "T", "next_borehole": "D"}


def proposal_name(table: str, rank: float | None) -> str:
    """How a proposal is called on every sheet, layer and list: T1 a test, D1 a borehole."""
    return PROPOSAL_LETTERS[table] + ("" if rank is None else f"{rank:.0f}")


def shown_unit(unit: str) -> str:
    """A unit symbol of the schema as people write it."""
    return SHOWN_UNITS.get(unit) or units_in(unit)


def units_in(text: str) -> str:
    """A text with the units of the schema in it as people write them: µg/L, m², °C."""
    text = text.replace("ug/", "µg/").replace("degC", SHOWN_UNITS["degC"])
    # of a length, not at the end of a name such as Term2
    powers = r"(?<![A-Za-z])([ckm]?m)([23])(?!\w)"
    return re.sub(powers, lambda unit: unit.group(1) + SUPERSCRIPTS[unit.group(2)], text)


def in_plain_figures(value: float, unit: str = "") -> bool:
    """Whether people read a number [unit] without a power of ten; one of K [m/s] always has it."""
    most = 1e9 if unit in WHOLE_UNITS else 1e5
    return (value == 0 or 1e-3 <= abs(value) < most) and unit not in POWERS_OF_TEN


def tidy(value: float, unit: str = "") -> str:
    """A number for people: powers of ten for K, else only where plain figures would be long.

    Parameters
    ----------
    value : float [any unit]
        Any finite number.
    unit : str
        Unit symbol of the schema, where it matters for the form.

    Returns
    -------
    str
        For example "3e-6", "0.5", "30"; "1e-3" for m/s.
    """
    if in_plain_figures(value, unit):
        return f"{value:.10g}" if unit in WHOLE_UNITS else f"{value:g}"
    mantissa, exponent = f"{value:.2e}".split("e")
    return f"{float(mantissa):g}e{int(exponent)}"


def class_words(lower: float, upper: float, unit: str) -> str:
    """What the legend says of a class.

    Parameters
    ----------
    lower, upper : float [unit]
        Infinite, or 0 below, where the class is open.
    unit : str
        Unit symbol of the schema; "1" for a probability [-].

    Returns
    -------
    str
        For example "3 to 10 µg/L", "< 0.5 µg/L" or "50 to 70 %".
    """
    if unit == "1":
        return f"{100 * lower:.0f} to {100 * upper:.0f} %"
    shown = shown_unit(unit)
    if not math.isfinite(lower):
        return f"< {tidy(upper, unit)} {shown}".rstrip()
    if not math.isfinite(upper):
        return f"> {tidy(lower, unit)} {shown}".rstrip()
    return f"{tidy(lower, unit)} to {tidy(upper, unit)} {shown}".rstrip()


@dataclass(frozen=True)
class Logged:
    """How a logged unit is filled: a colour, and the letters of a hatch that a grey print keeps."""

    colour: str
    hatch: str


# common practice, no source: neighbours differ in lightness and in pattern
LOGGED = (
    Logged("#f2e6c9", ""),
    Logged("#c9b48a", "..."),
    Logged("#e3ebe0", "---"),
    Logged("#a7b8a3", "\\\\\\"),
    Logged("#eadad2", "///"),
    Logged("#b99f93", "|||"),
    Logged("#dde3ec", "+++"),
    Logged("#94a3b8", "xxx"),
    Logged("#f0efe6", "ooo"),
    Logged("#8f8878", "...---"),
)


def logged_looks(names: Sequence[str]) -> dict[str, Logged]:
    """A look for each logged unit; the same for the same list, which is that of the whole site."""
    return {name: LOGGED[place % len(LOGGED)] for place, name in enumerate(names)}


def stratigraphic(logs: Iterable[tuple[str, str, float]]) -> list[str]:
    """Units from the youngest to the oldest, as the boreholes meet them from above.

    Parameters
    ----------
    logs : iterable of tuple
        Unit, borehole, and depth of its top [m].

    Returns
    -------
    list of str
        A unit stands above those that more boreholes meet below it than above; by mean depth where
        that does not decide.
    """
    holes: dict[str, dict[str, float]] = {}
    depths: dict[str, list[float]] = {}
    for unit, hole, top in logs:
        found = holes.setdefault(hole, {})
        found[unit] = min(top, found.get(unit, math.inf))
        depths.setdefault(unit, []).append(top)
    beats = dict.fromkeys(depths, 0)
    for one in depths:
        for other in depths:
            votes = sum(
                (h[one] < h[other]) - (h[one] > h[other])
                for h in holes.values()
                if one in h and other in h
            )
            beats[one] += (votes > 0) - (votes < 0)
    return sorted(depths, key=lambda u: (-beats[u], sum(depths[u]) / len(depths[u]), u))


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
