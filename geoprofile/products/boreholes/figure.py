"""Draws a borehole and the tool in it: depth true to scale, widths enlarged and said so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import FancyBboxPatch, Polygon, Rectangle

from geoprofile.drawing import people, theme
from geoprofile.packers import Hole, SetUp

WALL = 0.5  # half width of the widest section on the drawing
PIPE = 0.10  # half width of the pipe
ELEMENT_FACE = "#7b838b"
ZONE_FACE = "#dfe9f2"
ROCK_FACE = "#efece6"
CASING_KINDS = ("casing", "riser")


def frame_hole(ax: Axes, top_m: float, bottom_m: float) -> None:
    """Axes with depth downwards and nothing sideways."""
    ax.set_xlim(-1.0, 1.0)
    ax.set_ylim(bottom_m, top_m)
    ax.set_xticks([])
    ax.set_ylabel("Depth along the hole from ground [m]")
    people.length_axis(ax.yaxis)
    for side in ("top", "right", "bottom"):
        ax.spines[side].set_visible(False)


def draw_hole(ax: Axes, hole: Hole) -> None:
    """Rock, casing, open hole, ground and water level."""
    low, high = sorted(ax.get_ylim())
    ax.add_patch(Rectangle((-1, 0), 2, max(high, hole.depth_m), fc=ROCK_FACE, lw=0, zorder=0))
    widest = max((s.diameter_m for s in hole.sections), default=1.0)
    for section in hole.sections:
        half = WALL * section.diameter_m / widest
        length = section.bottom_m - section.top_m
        if section.is_open or section.kind in (*CASING_KINDS, "screen"):
            ax.add_patch(
                Rectangle((-half, section.top_m), 2 * half, length, fc=theme.PAPER, lw=0, zorder=1)
            )
        style: dict[str, Any] = {"lw": 2.6} if section.kind in CASING_KINDS else {"lw": 0.8}
        if section.kind == "screen":
            style = {"lw": 1.6, "ls": ":"}
        if section.kind in (*CASING_KINDS, "open hole", "screen"):
            ends = (section.top_m, section.bottom_m)
            for side in (-half, half):
                ax.plot([side, side], ends, color=theme.INK, zorder=4, **style)
    half = WALL * hole.diameter(hole.depth_m - 0.1, hole.depth_m) / widest or WALL
    ax.plot([-half, half], [hole.depth_m] * 2, color=theme.INK, lw=0.8, zorder=4)
    ax.plot([-1, 1], [0, 0], color=theme.GROUND, lw=1.6, zorder=5, clip_on=False)
    if low <= 0:
        ax.text(-0.98, 0, "ground", size=6.5, color=theme.GROUND, va="bottom", zorder=6)


def draw_water(ax: Axes, depth_m: float | None) -> None:
    """The static level, with a small triangle standing on it."""
    low, high = sorted(ax.get_ylim())
    if depth_m is None or not low <= depth_m <= high:
        return
    ax.plot([-1, 1], [depth_m] * 2, color=theme.WATER, lw=0.9, ls=(0, (6, 2)), zorder=5)
    size = 0.012 * (high - low)
    corners = [(0.82, depth_m), (0.76, depth_m - 2 * size), (0.88, depth_m - 2 * size)]
    ax.add_patch(Polygon(corners, fc=theme.PAPER, ec=theme.WATER, lw=0.9, zorder=6))


def draw_tool(ax: Axes, setup: SetUp, hole: Hole, *, stick_up_m: float) -> None:
    """Pipe, packer elements and the isolated zone."""
    widest = max((s.diameter_m for s in hole.sections), default=1.0)
    half = WALL * hole.diameter(setup.top_m, setup.bottom_m) / widest
    ax.add_patch(
        Rectangle((-half, setup.top_m), 2 * half, setup.length_m, fc=ZONE_FACE, ec="none", zorder=2)
    )
    end = setup.elements_m[-1][1] - 0.1 * setup.packer.element_length_m
    ax.add_patch(
        Rectangle(
            (-PIPE, -stick_up_m),
            2 * PIPE,
            end + stick_up_m,
            fc=theme.PAPER,
            ec=theme.INK,
            lw=0.7,
            zorder=6,
        )
    )
    for mark in _ports(setup):
        ax.plot([-PIPE, PIPE], [mark, mark], color=theme.INK, lw=0.5, zorder=7)
    for top, bottom in setup.elements_m:
        width = WALL * hole.diameter(top, bottom) / widest
        ax.add_patch(
            FancyBboxPatch(
                (-width, top),
                2 * width,
                bottom - top,
                boxstyle="round,pad=0,rounding_size=0.08",
                mutation_aspect=max(bottom - top, 0.1),
                fc=ELEMENT_FACE,
                ec=theme.INK,
                lw=0.8,
                zorder=8,
            )
        )


def _ports(setup: SetUp) -> list[float]:
    """Slots in the pipe within the zone, so that the open length is told from the rest."""
    end = setup.bottom_m if len(setup.elements_m) > 1 else setup.top_m
    count = 6
    return [setup.top_m + (end - setup.top_m) * (k + 0.5) / count for k in range(count)]


def mark_depths(ax: Axes, depths_m: Sequence[float], *, least_gap_m: float) -> None:
    """Depths written at the right edge with a leader; spread so that none touch."""
    places = spread(depths_m, least_gap_m)
    for depth, place in zip(depths_m, places, strict=True):
        ax.annotate(
            people.told(depth, "m"),
            xy=(WALL, depth),
            xytext=(1.04, place),
            size=7.5,
            va="center",
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": theme.QUIET},
            zorder=9,
        )


def spread(values: Sequence[float], gap: float) -> list[float]:
    """Rising values moved apart to a least gap, as little as one pass down and one up allows."""
    placed = [float(v) for v in values]
    for k in range(1, len(placed)):
        placed[k] = max(placed[k], placed[k - 1] + gap)
    over = placed[-1] - (values[-1] + 0.5 * gap) if placed else 0.0
    if over > 0:
        placed = [p - over / 2 for p in placed]
    return placed
