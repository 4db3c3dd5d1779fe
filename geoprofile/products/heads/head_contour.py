"""Lines of equal head between the boreholes, with what makes them doubtful."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.drawing.levels import nice_step
from geoprofile.engine.rows import finding, frame, joined
from geoprofile.geometry.contours import isolines, polygons
from geoprofile.geometry.grids import grid_over
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.boreholes.surfaces import Surface, shallowest_heads, water_of
from geoprofile.products.heads.flow import FLAT_TRIANGLE
from geoprofile.products.maps.grids import domain_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
LINES = 8  # about how many heads have a line
MARGIN = 0.05  # of the wells' extent, how far lines go beyond the outermost wells [-]
FEWEST = 3  # boreholes
CELLS = 5000


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Head contours between the boreholes.

    Returns
    -------
    Mapping
        Table `head_contour`, lines whose z is their head; findings on heads that cannot carry them.

    Notes
    -----
    The surface passes through the shallowest head of each borehole at its latest date, and is
    drawn only between the boreholes: the plane that fits the heads best, with what the heads differ
    from it spread by cones, so that the lines of a plane are straight. Water flows across the
    lines where the ground conducts alike in all directions.
    """
    rows: list[dict[str, Any]] = []
    water = water_of(site)
    count = 0 if water is None else len(water.xy)
    findings = _doubts(site, float(settings["days"])) if count else []
    if water is not None and count >= FEWEST:
        rows = _rows(water, _between_wells(site, water), float(settings["interval_m"]))
        notes = joined([f"heads of {water.notes}", *(f["what"] for f in findings)])
        rows = [{**row, "boreholes": count, "notes": notes} for row in rows]
    progress(1, 1)
    return {
        "head_contour": frame("head_contour", rows, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _between_wells(site: Site, water: Surface) -> BaseGeometry:
    """Where lines are drawn: the hull of the wells with a margin, inside the area of the maps."""
    import shapely

    reach = float(np.hypot(*np.ptp(water.xy, axis=0)))
    hull: BaseGeometry = shapely.MultiPoint(water.xy).convex_hull.buffer(MARGIN * reach)
    return hull.intersection(domain_of(site))


def leaning(water: Surface) -> Callable[[Array], Array]:
    """The surface through heads that leans as they do on the whole.

    Parameters
    ----------
    water : Surface
        Heads [m].

    Returns
    -------
    Callable
        From map points, shape (n, 2) [m], to heads, shape (n,) [m].

    Notes
    -----
    Wells nearly on a line say nothing of the slope across it: then it is the surface itself.
    """
    middle = water.xy.mean(axis=0)
    spread = np.linalg.svd(water.xy - middle, compute_uv=False)
    if len(water.xy) < FEWEST or spread[1] < FLAT_TRIANGLE * spread[0]:
        return water.at
    level = float(water.elevation_m.mean())
    slope, *_ = np.linalg.lstsq(water.xy - middle, water.elevation_m - level, rcond=None)

    def plane(xy: Array) -> Array:
        return np.asarray(level + (xy - middle) @ slope, dtype=np.float64)

    rest = Surface(water.xy, water.elevation_m - plane(water.xy))
    return lambda xy: plane(xy) + rest.at(xy)


def _rows(water: Surface, domain: BaseGeometry, interval_m: float) -> list[dict[str, Any]]:
    """A row per line."""
    import shapely

    low, high = float(water.elevation_m.min()), float(water.elevation_m.max())
    area = polygons(domain)
    if high - low < 1e-6 or area.is_empty:
        return []
    step = interval_m or nice_step(high - low, LINES)
    grid = grid_over(area, cells=CELLS)
    values = grid.spread(leaning(water)(grid.nodes))
    rows = []
    for head in step * np.arange(np.ceil(low / step), np.floor(high / step) + 1):
        level = float(np.round(head, 9))
        rows += [
            {
                "head_m": level,
                "label": f"{level:.10g} m",
                "geometry": shapely.force_3d(line, level),
            }
            for line in isolines(grid.x, grid.y, values, level, area)
        ]
    return rows


def _doubts(site: Site, days: float) -> list[dict[str, str]]:
    """Findings on few wells, wells on a line, and heads of different dates."""
    heads = site.table("head")
    shallow = shallowest_heads(heads[heads["head_m"].notna()])
    if len(shallow) < FEWEST:
        what = f"heads in {len(shallow)} borehole(s): no head contours"
        return [_doubt(what, "Measure static heads in at least three boreholes.")]
    found = []
    places = shallow[["x", "y"]].to_numpy(np.float64)
    spread = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if spread[-1] < FLAT_TRIANGLE * spread[0]:
        what = "the boreholes lie nearly on one line: head contours beside it are not reliable"
        found.append(_doubt(what, "Measure a static head in a borehole off that line."))
    dates = pd.to_datetime(shallow["day"].replace("", None), format="ISO8601")
    span = (dates.max() - dates.min()).days if dates.notna().any() else 0
    if span > days:
        what = f"head contours mix heads measured {span} days apart"
        found.append(_doubt(what, "Measure all boreholes within a few days."))
    if dates.isna().any():
        what = f"head contours use {int(dates.isna().sum())} head(s) without a time"
        found.append(_doubt(what, "Enter the level with its time in the table water_level."))
    return found


def _doubt(what: str, what_to_do: str) -> dict[str, str]:
    return finding("head", "contours", what, what_to_do=what_to_do, severity="note")


PLUGIN = Layer(
    name="head_contour",
    summary="lines of equal head between the boreholes",
    reads=("head", "borehole", "area"),
    writes=("head_contour",),
    compute=compute,
    settings=(
        Setting("interval_m", 0.0, "m", "Head between two lines; 0: a round one", low=0),
        Setting(
            "days", 7.0, "d", "Heads farther apart in time than this are said to be mixed", low=0
        ),
    ),
)
