"""Marks of a section figure: intervals, holes with what was drilled, proposals, bends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from geoprofile.drawing import people, theme
from geoprofile.drawing.bars import Placer, bar_outline, draw_bar
from geoprofile.drawing.names import short_names
from geoprofile.drawing.symbols import proposal_name
from geoprofile.products.section.figure_legend import (
    BUILT_LINES,
    NEXT_HOLE,
    NEXT_TEST,
    unit_styles,
)
from geoprofile.products.section.figure_numbers import Drawing
from geoprofile.products.section.logs import Contact, Proposal
from geoprofile.products.section.sections import Section

LEAST_TURN_DEG = 2.0  # smaller bends are not marked
BAR_SHARE = 0.011  # width of a bar, of the width of the drawing [-]


def draw_intervals(
    axes: Axes, drawing: Drawing, placer: Placer, *, colours: list[str], exaggeration: float
) -> None:
    """Bars with their values beside them."""
    lines = {one.interval: one.line for one in drawing.section.intervals}
    width = bar_width(axes)
    for row in drawing.rows:
        line = lines[row["interval"]]
        draw_bar(
            axes,
            line,
            row,
            bandwidth=drawing.bandwidth,
            colours=colours,
            width=width,
            exaggeration=exaggeration,
        )
        placer.block(bar_outline(line, width, exaggeration))
    for row in sorted(drawing.rows, key=lambda r: -(r["value"] or 0.0)):
        line = lines[row["interval"]]
        z = float(line[[0, -1], 1].mean())
        right, left = float(line[:, 0].max()) + 0.9 * width, float(line[:, 0].min()) - 1.4 * width
        places = [(right, z, "left", "center"), (left, z, "right", "center")]
        placer.put(row["label"].removesuffix(drawing.unit_shown).strip(), places, size=6.3)


def draw_holes(axes: Axes, section: Section, placer: Placer) -> None:
    """Holes with name and distance of projection above the ground."""
    reach = float(np.ptp(axes.get_ylim()))
    names = short_names(hole.borehole for hole in section.holes)
    for hole in section.holes:
        axes.plot(*hole.line.T, color=theme.INK, linewidth=0.9, zorder=5)
        s, z = hole.line[0]
        axes.plot([s], [z], marker="o", markersize=3.5, color=theme.INK, zorder=7)
        text = f"{names[hole.borehole]}\n{people.told(hole.projection_m, 'm', 0)}"
        places = [  # beside the hole where it stands at an end of the section
            (s, z + (0.015 + 0.045 * k) * reach, across, "bottom")
            for across in ("center", "left", "right")
            for k in range(3)
        ]
        placer.put(text, places, size=7, linespacing=1.15)


def bar_width(axes: Axes) -> float:
    """Width of an interval bar, in units of the x axis."""
    return BAR_SHARE * float(np.ptp(axes.get_xlim()))


def draw_logs(axes: Axes, drawing: Drawing, *, exaggeration: float) -> None:
    """Units met as a strip left of each hole; casing and screen on the hole."""
    width = bar_width(axes)
    styles = unit_styles(drawing.logged)
    for piece in drawing.pieces:
        if piece.table == "construction":
            if piece.name in BUILT_LINES:
                axes.plot(*piece.line.T, zorder=5.5, **BUILT_LINES[piece.name])
            continue
        strip = bar_outline(piece.line - [0.85 * width, 0.0], 0.55 * width, exaggeration)
        axes.add_patch(
            Polygon(
                strip,
                closed=True,
                linewidth=0.3,
                **styles.get(piece.name, {"facecolor": theme.PAPER}),
                zorder=5,
            )
        )


def name_contacts(contacts: Sequence[Contact], placer: Placer) -> None:
    """The unit's name once below each of its tops, where there is room."""
    named: set[str] = set()
    for contact in sorted(contacts, key=lambda c: -len(c.line)):
        if contact.unit in named:
            continue
        named.add(contact.unit)
        places = [contact.line[int(share * (len(contact.line) - 1))] for share in (0.9, 0.7, 0.4)]
        spots = [(float(s), float(z), "center", "top") for s, z in places]
        placer.put(contact.unit, spots, size=6.3, style="italic", color=theme.QUIET)


def draw_proposals(axes: Axes, proposals: Sequence[Proposal], placer: Placer) -> None:
    """Proposed tests beside their hole and proposed boreholes, with their ranks."""
    width = bar_width(axes)
    for proposal in proposals:
        s, z = proposal.line.mean(axis=0)
        if proposal.table == "next_test":
            axes.plot([s], [z], zorder=8, **NEXT_TEST)
            spots = [
                (s + 0.9 * width, z, "left", "center"),
                (s - 1.6 * width, z, "right", "center"),
            ]
        else:
            axes.plot(*proposal.line.T, zorder=5, **NEXT_HOLE)
            top, bottom = proposal.line
            spots = [
                (top[0], top[1], "center", "bottom"),
                (bottom[0], bottom[1], "center", "top"),
            ]
        name = proposal_name(proposal.table, proposal.rank)
        placer.put(name, spots, size=6.3, weight="bold")


def draw_bends(axes: Axes, drawing: Drawing, placer: Placer) -> None:
    """Bends of the line and crossings with other sections, marked at the lower edge."""
    told = []
    plane = drawing.section.plane
    low, aside = axes.get_ylim()[0], 1.1 * bar_width(axes)
    feet = [float(hole.line[-1, 0]) for hole in drawing.section.holes]
    turns = (np.diff(plane.azimuths) + 180.0) % 360.0 - 180.0
    for k, distance in enumerate(plane.bends[1:-1]):
        if abs(turns[k]) < LEAST_TURN_DEG:
            continue
        axes.axvline(distance, color=theme.QUIET, linewidth=0.6, linestyle=(0, (1, 2)), zorder=3)
        turn = f"   bend {plane.azimuths[k]:.0f}° to {plane.azimuths[k + 1]:.0f}°"
        hidden = any(abs(foot - distance) < aside for foot in feet)  # behind the log of a hole
        told.append(
            axes.text(
                distance + (aside if hidden else 0.0),
                low,
                turn,
                size=6.3,
                color=theme.QUIET,
                rotation=90,
                va="bottom",
                ha="left" if hidden else "right",
                path_effects=theme.HALO,
            )
        )
    for distance, name in drawing.crossings:
        axes.plot(
            [distance], [low], marker="^", markersize=6, color=theme.INK, clip_on=False, zorder=8
        )
        told.append(axes.text(distance, low, f"  {name}", size=6.3, va="bottom", ha="left"))
    for text in told:
        placer.take(text.get_window_extent(placer.renderer))
