"""Parts of a map sheet: grid, scale bar, north arrow, site areas, boreholes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Polygon, Rectangle
from matplotlib.path import Path as Outline

from geoprofile.drawing import people, theme
from geoprofile.drawing.levels import nice_step
from geoprofile.drawing.marks import AREAS
from geoprofile.drawing.symbols import AREA_ORDER, area_kind

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from geoprofile.site import Site

OFF_THE_CORNER = 0.045  # of an axis: the label of a line so near its end would meet the heading
AREA_LOOKS: Mapping[str, dict[str, Any]] = {k: a.figure for k, a in AREAS.items()}


def map_axes(
    figure: Figure, bounds: tuple[float, float, float, float], box_in: tuple[float, ...]
) -> tuple[Axes, float]:
    """Axes of equal scales with a coordinate grid, and the denominator of a round scale.

    Parameters
    ----------
    figure : Figure
        The sheet.
    bounds : tuple of four float [m]
        West, south, east, north of what must be seen.
    box_in : tuple of four float [inch]
        Left, bottom, width and height of the map, as on A4 across.

    Returns
    -------
    Axes, float [-]
        The map, and n of the scale 1 to n.
    """
    left, bottom, width, height = theme.on_sheet(figure, box_in)
    west, south, east, north = bounds
    need = max((east - west) / width, (north - south) / height) * 1.02 / 0.0254
    scale = round_scale(need)
    across, up = scale * 0.0254 * width / 2, scale * 0.0254 * height / 2
    middle = (west + east) / 2, (south + north) / 2
    wide, tall = figure.get_size_inches()
    axes = figure.add_axes((left / wide, bottom / tall, width / wide, height / tall))
    axes.set_xlim(middle[0] - across, middle[0] + across)
    axes.set_ylim(middle[1] - up, middle[1] + up)
    step = nice_step(2 * across, 8)
    for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
        last = np.floor((high - OFF_THE_CORNER * (high - low)) / step)
        axis.set_ticks(np.arange(np.ceil(low / step), last + 1) * step)
        axis.set_major_formatter(lambda value, _: f"{value:.0f}")
    axes.tick_params(axis="y", labelrotation=90, labelsize=7)
    axes.tick_params(axis="x", labelsize=7)
    for label in axes.get_yticklabels():
        label.set_verticalalignment("center")
    axes.set_axisbelow(True)
    axes.grid(color=theme.FAINT, linewidth=0.4, zorder=0)
    axes.set_xlabel("Easting [m]")
    axes.set_ylabel("Northing [m]")
    return axes, scale


def round_scale(least: float) -> float:
    """The next round scale (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7.5 times a power of ten).

    Parameters
    ----------
    least : float [-]
        Smallest denominator that fits.

    Returns
    -------
    float [-]
        Denominator.
    """
    power = 10.0 ** np.floor(np.log10(least))
    for factor in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7.5, 10):
        if factor * power >= least:
            return float(factor * power)
    return float(10 * power)


def shape_patch(shape: BaseGeometry, **style: Any) -> PathPatch:
    """A polygon with its holes as one patch.

    Parameters
    ----------
    shape : BaseGeometry
        Polygon or MultiPolygon, not empty [m].
    **style
        As for any patch.

    Returns
    -------
    PathPatch
        Not yet on any axes.
    """
    singles = getattr(shape, "geoms", [shape])
    rings = [np.asarray(r.coords)[:, :2] for p in singles for r in (p.exterior, *p.interiors)]
    return PathPatch(Outline.make_compound_path(*(Outline(r, closed=True) for r in rings)), **style)


def draw_areas(axes: Axes, site: Site) -> list[str]:
    """Outlines of the site's areas; returns the kinds that were drawn.

    Parameters
    ----------
    axes : Axes
        The map.
    site : Site
        Its table `area` is read.

    Returns
    -------
    list of str
        Kinds in the order of the legend: what is closed to drilling lies on top of the others.
    """
    areas = site.table("area")
    drawn = []
    kinds = areas["kind"].map(area_kind)
    for place, kind in enumerate(AREA_ORDER):
        for shape in areas.loc[kinds == kind].geometry:
            axes.add_patch(shape_patch(shape, zorder=4 + 0.1 * place, **AREA_LOOKS[kind]))
            drawn.append(kind)
    return list(dict.fromkeys(drawn))


def scale_bar(axes: Axes, scale: float) -> None:
    """A bar of round length in the unit that people read, at the lower left of the map.

    Parameters
    ----------
    axes : Axes
        The map [m].
    scale : float [-]
        Denominator, printed beside it.
    """
    west, east = axes.get_xlim()
    south, north = axes.get_ylim()
    units = people.now()
    shown = nice_step(units.value((east - west) / 4.2, "m"), 1)
    length = shown / units.value(1.0, "m")
    x, y = west + 0.03 * (east - west), south + 0.035 * (north - south)
    height = 0.008 * (north - south)
    back = Rectangle(
        (west + 0.004 * (east - west), south + 0.005 * (north - south)),
        length + 0.1 * (east - west),
        0.075 * (north - south),
        facecolor=theme.PAPER,
        edgecolor="none",
        zorder=10,
    )
    axes.add_patch(back)
    for piece in range(4):
        axes.add_patch(
            Rectangle(
                (x + piece * length / 4, y),
                length / 4,
                height,
                facecolor=theme.INK if piece % 2 == 0 else theme.PAPER,
                edgecolor=theme.INK,
                linewidth=0.6,
                zorder=11,
            )
        )
    for share, text in (
        (0.0, "0"),
        (0.5, f"{shown / 2:g}"),
        (1.0, f"{shown:g} {units.unit('m')}"),
    ):
        axes.text(x + share * length, y + 1.6 * height, text, size=6.8, ha="center", zorder=11)
    words = f"{scale:,.0f}".replace(",", " ")
    axes.text(x, y - 0.6 * height, f"1:{words} on {units.paper}", size=6.8, va="top", zorder=11)


def compass_axes(figure: Figure) -> Axes:
    """An empty square above the legend, north up, for the needle and the flow.

    Parameters
    ----------
    figure : Figure
        The sheet.

    Returns
    -------
    Axes
        x and y from -1 to 1 [-].
    """
    wide, tall = figure.get_size_inches()
    side = 1.0  # [inch]
    axes = figure.add_axes((0.87, 0.985 - side / tall, side / wide, side / tall))
    axes.set_xlim(-1, 1)
    axes.set_ylim(-1, 1)
    axes.axis("off")
    return axes


def north_arrow(axes: Axes) -> None:
    """A plain needle for grid north."""
    kite = np.array([(0, 0.72), (0.2, -0.62), (0, -0.42), (-0.2, -0.62)])
    for corners, face in (((0, 1, 2), theme.INK), ((0, 3, 2), theme.PAPER)):
        axes.add_patch(
            Polygon(
                kite[list(corners)],
                closed=True,
                facecolor=face,
                edgecolor=theme.INK,
                linewidth=0.8,
                zorder=3,
            )
        )
    axes.text(0, 0.78, "N", ha="center", va="bottom", size=9, weight="bold")


def flow_arrow(axes: Axes, azimuth_deg: float, spread_deg: float) -> None:
    """Direction of flow with a fan of one standard deviation to either side.

    Parameters
    ----------
    axes : Axes
        From `compass_axes`.
    azimuth_deg, spread_deg : float [deg]
        From north, clockwise; its standard deviation, 0 where not known.
    """
    if spread_deg > 0:
        angles = np.radians(np.linspace(azimuth_deg - spread_deg, azimuth_deg + spread_deg, 40))
        rim = 0.95 * np.column_stack([np.sin(angles), np.cos(angles)])
        fan = np.vstack([[0.0, 0.0], rim])
        axes.add_patch(
            Polygon(fan, closed=True, facecolor=theme.WATER, alpha=0.25, edgecolor="none")
        )
    angle = np.radians(azimuth_deg)
    axes.annotate(
        "",
        xy=(0.95 * np.sin(angle), 0.95 * np.cos(angle)),
        xytext=(0.0, 0.0),
        arrowprops={
            "arrowstyle": "-|>,head_length=0.5,head_width=0.25",
            "color": theme.WATER,
            "linewidth": 1.8,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        zorder=4,
    )
