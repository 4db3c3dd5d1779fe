"""Words of a section figure: heading, directions at the ends, notes."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from geoprofile.drawing import people, theme
from geoprofile.drawing.bars import Placer
from geoprofile.products.section.figure_numbers import Drawing
from geoprofile.products.section.sections import Section
from geoprofile.schema.soil_gas import CAUTION as GAS_CAUTION
from geoprofile.schema.soil_gas import IN_GAS

GAS_WORDS = (
    "Soil gas is drawn between the depths of its shallowest and deepest samples, above the water "
    "level; blank is where it is not known well enough for its maps either."
)
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def write_ends(section: Section, placer: Placer) -> None:
    """Directions at the ends; what is written later keeps clear of them and of the scale."""
    axes, azimuths = placer.axes, section.plane.azimuths
    back = (azimuths[0] + 180) % 360
    for x, azimuth, across in ((0, back, "left"), (1, azimuths[-1], "right")):
        words = f"{compass(azimuth)} ({azimuth:.0f}°)"
        end = axes.text(x, 1.015, words, transform=axes.transAxes, weight="bold", ha=across)
        placer.take(end.get_window_extent(placer.renderer))
    box = axes.get_window_extent(placer.renderer)
    placer.take(Bbox.from_extents(0, box.y0, box.x0, box.y1))


def write_words(
    figure: Figure, drawing: Drawing, placer: Placer, *, exaggeration: float, metres_per_inch: float
) -> float:
    """Heading and notes; returns where the notes end [share of the sheet]."""
    section, is_gas = drawing.section, drawing.quantity.endswith(IN_GAS)
    what = "Hydraulic conductivity K" if drawing.quantity == "K" else drawing.quantity
    holes = len({r["borehole"] for r in drawing.rows})
    about = [
        f"{_number(len(drawing.rows), 'interval')} in {_number(holes, 'borehole')}",
        f"round {drawing.round}" if drawing.round else "",
        drawing.dates,
    ]
    theme.title(figure, f"Section {section.name}: {what}", ", ".join(a for a in about if a))
    units = people.now()
    length = units.unit("m")
    scale = f"{metres_per_inch / 0.0254:,.0f}".replace(",", " ")
    notes = [
        f"Horizontal scale 1:{scale} on {units.paper}, vertical exaggeration {exaggeration:g} "
        f"times. Elevation in {length}, {drawing.vertical_datum}. Azimuths from grid north.",
        f"Boreholes within {people.few(section.band_width_m, 'm', 3)} {length} are projected at "
        "right angles; the figure below each name is the largest distance of projection.",
        f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else "",
        *(f"{people.translated(_capital(note))}." for note in section.notes),
        _about_field(drawing, is_gas=is_gas),
    ]
    caution = GAS_CAUTION if is_gas else theme.CAUTION
    return theme.foot(figure, notes, caution, document=drawing.document)


def _number(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _capital(note: str) -> str:
    return note[:1].upper() + note[1:]


def _about_field(drawing: Drawing, *, is_gas: bool) -> str:
    """Where gas is drawn, or that nothing is drawn between the intervals."""
    if drawing.slice is not None:
        return GAS_WORDS if is_gas else ""
    if is_gas:
        return (
            "No soil gas is drawn between the measured intervals: too few near the line, or not "
            "known well enough there."
        )
    return "No model between boreholes stands for this quantity: only measured intervals are shown."


def compass(azimuth_deg: float) -> str:
    """Nearest of the eight directions.

    Parameters
    ----------
    azimuth_deg : float [deg]
        From north, clockwise.

    Returns
    -------
    str
        N, NE, ...
    """
    return COMPASS[round((azimuth_deg % 360) / 45) % 8]
