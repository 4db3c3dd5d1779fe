"""Words of a section figure: heading, directions at the ends, notes."""

from __future__ import annotations

from matplotlib.figure import Figure

from geoprofile.figures import _look as look
from geoprofile.figures._bars import Placer
from geoprofile.figures.section_numbers import Drawing

COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def write_words(
    figure: Figure, drawing: Drawing, placer: Placer, *, exaggeration: float, metres_per_inch: float
) -> None:
    """Heading, directions at the ends and notes."""
    section = drawing.section
    azimuths = section.plane.azimuths
    axes = placer.axes
    start, end = compass(azimuths[0] + 180), compass(azimuths[-1])
    axes.text(
        0,
        1.015,
        f"{start} ({(azimuths[0] + 180) % 360:.0f}°)",
        transform=axes.transAxes,
        weight="bold",
    )
    axes.text(
        1,
        1.015,
        f"{end} ({azimuths[-1]:.0f}°)",
        transform=axes.transAxes,
        weight="bold",
        ha="right",
    )
    what = "Hydraulic conductivity K" if drawing.quantity == "K" else drawing.quantity
    holes = len({r["borehole"] for r in drawing.rows})
    about = [
        f"{len(drawing.rows)} intervals in {holes} boreholes",
        f"round {drawing.round}" if drawing.round else "",
        drawing.dates,
    ]
    look.title(figure, f"Section {section.name}: {what}", ", ".join(a for a in about if a))
    scale = f"{metres_per_inch / 0.0254:,.0f}".replace(",", " ")
    notes = [
        f"Horizontal scale 1:{scale} on A4, vertical exaggeration {exaggeration:g} times. "
        f"Elevation in m, {drawing.vertical_datum}. Azimuths from grid north.",
        f"Boreholes within {section.band_width_m:g} m are projected at right angles; the figure "
        "below each name is the largest distance of projection.",
        f"{placer.left_out} label(s) left out for lack of room." if placer.left_out else "",
        "; ".join(section.notes),
        "No field was fitted for this quantity: only measured intervals are shown."
        if drawing.slice is None
        else "",
    ]
    look.foot(figure, notes)


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
