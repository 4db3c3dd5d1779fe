"""Units that people read: what [units] of site.toml asks for, on sheets, pages and in words.

Everything inside is SI. The units in force are set once, around the making of a sheet or a page,
so that no drawing has to pass them on.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from geoprofile.drawing.digits import counted
from geoprofile.schema.shown_units import PAPER, SYSTEM, UNIT_CHOICES

if TYPE_CHECKING:
    from matplotlib.axis import Axis

    from geoprofile.site import Site

FOOT, INCH = 0.3048, 0.0254  # [m], exact
GALLON_L = 3.785411784  # [L], US gallon of 231 cubic inches, exact
PSI_KPA = 6.894757293168361  # [kPa], pound-force per square inch
DAY = 86400.0  # [s]
# how many of the unit on the left make one of the unit on the right
PER: Mapping[tuple[str, str], float] = {
    ("m", "ft"): FOOT,
    ("mm", "in"): 1e3 * INCH,
    ("kPa", "psi"): PSI_KPA,
    ("kPa", "bar"): 100.0,
    ("L", "US gal"): GALLON_L,
    ("L/min", "US gal/min"): GALLON_L,
    ("m2", "ft2"): FOOT**2,
    ("m3", "ft3"): FOOT**3,
    ("m/s", "cm/s"): 1e-2,
    ("m/s", "m/d"): 1.0 / DAY,
    ("m/s", "ft/d"): FOOT / DAY,
}
# ends of names in the tables
SUFFIXES = {
    "m_per_s": "m/s",
    "l_min": "L/min",
    "kpa": "kPa",
    "mm": "mm",
    "m3": "m3",
    "m2": "m2",
    "m": "m",
    "l": "L",
}
ENDINGS = {
    "ft": "ft",
    "in": "in",
    "psi": "psi",
    "bar": "bar",
    "US gal": "usgal",
    "US gal/min": "usgal_min",
    "ft2": "ft2",
    "ft3": "ft3",
    "cm/s": "cm_per_s",
    "m/d": "m_per_d",
    "ft/d": "ft_per_d",
}
# one length, or two with "to", "-" or "," between them, and the unit
LENGTHS = re.compile(r"(?<![\w.,])(\d+(?:\.\d+)?)(?:( to |-|, )(\d+(?:\.\d+)?))? m(?![\w²³/])")
# one volume of ground, or two
VOLUMES = re.compile(
    r"(?<![\w.,])(\d[\d,]*(?:\.\d+)?(?:e-?\d+)?)(?:( of | to )(\d[\d,]*(?:\.\d+)?(?:e-?\d+)?))? m³"
    r"(?![\w/])"
)
COORDINATES = ("x", "y", "x_m", "y_m")  # in the CRS of the site, which has a unit of its own


@dataclass(frozen=True)
class Shown:
    """The units that are read: `instead` gives for a unit of the store the one to show."""

    instead: Mapping[str, str] = field(default_factory=dict)
    paper: str = "A4"

    def unit(self, unit: str) -> str:
        """The unit to show for one of the store."""
        return self.instead.get(unit, unit)

    def value(self, value: float, unit: str) -> float:
        """A value of the store [unit] in the unit to show."""
        there = self.unit(unit)
        return value if there == unit else value / PER[unit, there]


_NOW: ContextVar[Shown] = ContextVar("units_shown", default=Shown())  # noqa: B039


def shown_of(site: Site) -> Shown:
    """The units that a site asks for.

    Parameters
    ----------
    site : Site
        Its settings under [units]: `system`, `paper`, and one key for each quantity.

    Returns
    -------
    Shown
        Metric on A4 where nothing is said.
    """
    return shown_by(site.settings_of("units"))


def shown_by(said: Mapping[str, Any]) -> Shown:
    """The units that [units] of site.toml asks for.

    Parameters
    ----------
    said : Mapping
        Keys `system`, `paper`, and one for each quantity.

    Returns
    -------
    Shown
        Metric on A4 where nothing is said.
    """
    place = 1 if said.get(SYSTEM) == "us" else 0
    instead = {}
    for key, choices in UNIT_CHOICES.items():
        wanted = str(said.get(key, choices[place]))
        if wanted != choices[0]:
            instead[choices[0]] = wanted
    usual = "US Letter" if place else "A4"
    return Shown(instead, str(said.get(PAPER, usual)))


@contextmanager
def shown_in(units: Shown) -> Iterator[None]:
    """Show everything made inside in these units."""
    token = _NOW.set(units)
    try:
        yield
    finally:
        _NOW.reset(token)


def now() -> Shown:
    """The units in force."""
    return _NOW.get()


def told(value: float, unit: str, places: int = 2) -> str:
    """A value of the store with the unit in force.

    Parameters
    ----------
    value : float [unit]
        As stored.
    unit : str
        Of the store.
    places : int
        After the point.

    Returns
    -------
    str
        Such as `12.34 m` or `40.49 ft`.
    """
    return f"{plain(value, unit, places)} {now().unit(unit)}"


def plain(value: float, unit: str, places: int = 2) -> str:
    """As `told`, without the unit."""
    return f"{now().value(value, unit):.{places}f}"


def few(value: float, unit: str, digits: int = 2) -> str:
    """As `plain`, with some significant figures, all of a whole number, and no idle zeros."""
    shown = float(f"{now().value(value, unit):.{digits}g}")
    if not math.isfinite(shown) or abs(shown) < 10**digits:
        return f"{shown:.{digits + 1}g}"  # one more: 99.97 is 100, not 1e+02
    return f"{now().value(value, unit):.0f}"


def counted_in(value: float, unit: str, low: float | None = None, high: float | None = None) -> str:
    """A value in the unit in force with the figures that its uncertainty justifies, and the unit.

    Parameters
    ----------
    value : float [unit]
        As stored.
    unit : str
        Of the store.
    low, high : float, optional [unit]
        Its 10 and 90 % quantiles.

    Returns
    -------
    str
        Such as `310,000 m3`.
    """
    return f"{counted_plain(value, unit, low, high)} {now().unit(unit)}"


def counted_plain(
    value: float, unit: str, low: float | None = None, high: float | None = None
) -> str:
    """As `counted_in`, without the unit."""
    here = now()
    ends = (None if end is None else here.value(end, unit) for end in (low, high))
    return counted(here.value(value, unit), *ends)


def translated(text: str) -> str:
    """Lengths and volumes within a stored sentence, such as `at 29 m`, in the units in force.

    Parameters
    ----------
    text : str
        As stored, in metres and cubic metres.

    Returns
    -------
    str
        Lengths with as many figures as were told, two at least; volumes with two.

    Examples
    --------
    >>> with shown_in(Shown({"m": "ft", "m3": "ft3"})):
    ...     translated("B4 (12 at 21 m) within 3.0 m; 15 of 1.2e5 m³, 2 m/s")
    'B4 (12 at 69 ft) within 9.8 ft; 530 of 4,200,000 ft³, 2 m/s'
    """
    text = _volumes_translated(text)
    unit = now().unit("m")
    if unit == "m":
        return text

    def told_again(found: re.Match[str]) -> str:
        numbers = [_again(float(n), n) for n in found.group(1, 3) if n]
        return f"{(found.group(2) or '').join(numbers)} {unit}"

    return LENGTHS.sub(told_again, text)


def _volumes_translated(text: str) -> str:
    here = now()
    unit = here.unit("m3")
    if unit == "m3":
        return text

    def told_again(found: re.Match[str]) -> str:
        cubic = [float(n.replace(",", "")) for n in found.group(1, 3) if n]
        numbers = [counted(here.value(n, "m3")) for n in cubic]
        return f"{(found.group(2) or '').join(numbers)} {unit.replace('3', '³')}"

    return VOLUMES.sub(told_again, text)


def _again(metres: float, said: str) -> str:
    digits = max(2, len(said.replace(".", "").lstrip("0")))
    value = metres / FOOT
    places = max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0
    return f"{value:.{min(places, len(said.partition('.')[2]) if '.' in said else 0)}f}"


def length_axis(axis: Axis) -> None:
    """Make an axis that runs in metres read in the unit of length in force, at round numbers.

    Parameters
    ----------
    axis : Axis
        Whose label, if it ends in [m], follows.
    """
    unit = now().unit("m")
    if unit == "m":
        return
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    class Round(MaxNLocator):
        """Round numbers of the unit shown."""

        def tick_values(self, vmin: float, vmax: float) -> Any:
            return [FOOT * tick for tick in super().tick_values(vmin / FOOT, vmax / FOOT)]

    axis.set_major_locator(Round(nbins=9, steps=[1, 2, 2.5, 5, 10]))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value / FOOT:g}"))
    axis.set_label_text(axis.get_label_text().replace("[m", f"[{unit}", 1))


def in_units(
    names: Sequence[str], rows: Sequence[Sequence[Any]], units: Shown
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """A table with names that end in a unit, in the units to show.

    Parameters
    ----------
    names : sequence of str
        Of columns, such as top_m; coordinates stay as they are.
    rows : sequence of sequence
        Values in the order of the names.
    units : Shown
        What is asked for.

    Returns
    -------
    list of str, list of tuple
        Names that end in the unit shown, such as top_ft, and the values in it.

    Examples
    --------
    >>> in_units(["top_m"], [(3.048,)], Shown({"m": "ft"}))
    (['top_ft'], [(10.0,)])
    """
    found = [_suffix(name) for name in names]
    kept = [unit if unit and units.unit(unit) != unit else "" for _, unit in found]
    heads = [
        f"{name.removesuffix(end)}{ENDINGS[units.unit(unit)]}" if unit else name
        for name, (end, _), unit in zip(names, found, kept, strict=True)
    ]
    return heads, [
        tuple(
            units.value(value, unit) if unit and isinstance(value, int | float) else value
            for value, unit in zip(row, kept, strict=True)
        )
        for row in rows
    ]


def _suffix(name: str) -> tuple[str, str]:
    """End of a name and the unit it stands for; two empty texts for none, and for an amount per
    unit, such as a concentration per litre.
    """
    if name not in COORDINATES:
        for end, unit in SUFFIXES.items():
            if name.endswith(f"_{end}") and not name.endswith(f"_per_{end}"):
                return end, unit
    return "", ""
