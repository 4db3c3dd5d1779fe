"""Surfaces through points of a site: ground, water level and the bottoms of the holes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.geometry.linear_surface import Cones
from geoprofile.kept_while import made_of
from geoprofile.products.boreholes.inputs import paths_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]
# How near holes stand that are one nest: common practice, no source.
NEST_M, NEST_SHARE = 3.0, 0.02
FAR_DEEPER = 1.0  # [-] of the site's width, and of the range of the other bottoms
FEW_HOLES = 3  # fewer say nothing of what is usual


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface through points: `xy` (n, 2) [m], `elevation_m` (n,) [m], and remarks in words."""

    xy: Array
    elevation_m: Array
    notes: str = ""

    def at(self, xy: Array) -> Array:
        """Elevation at map points.

        Parameters
        ----------
        xy : Array, shape (n, 2) [m]
            x, y.

        Returns
        -------
        Array, shape (n,) [m]
            Elevation.
        """
        return self._cones.at(xy)

    @cached_property
    def _cones(self) -> Cones:
        return Cones.through(self.xy, self.elevation_m)


@made_of("borehole", most=4)
def ground_of(site: Site) -> Surface:
    """Ground level through the collars.

    Parameters
    ----------
    site : Site
        Its table `borehole` is read.

    Returns
    -------
    Surface
        Elevation [m] up from the vertical datum.

    Raises
    ------
    DataError
        The site has no borehole.
    """
    holes = site.table("borehole")
    if holes.empty:
        raise DataError("borehole", "no borehole", "at least one", "Load boreholes first.")
    return Surface(
        holes[["x", "y"]].to_numpy(np.float64), holes["ground_elevation_m"].to_numpy(np.float64)
    )


@made_of("borehole", "survey", most=4)
def bottoms_of(site: Site) -> Surface:
    """Surface through the ends of the holes: below it nothing was ever measured.

    Of holes beside each other, as nested wells are, the deepest counts: the shallow one does not
    hide the ground that its neighbour has shown.

    Parameters
    ----------
    site : Site
        Its tables `borehole` and `survey` are read.

    Returns
    -------
    Surface
        Elevation [m] up from the vertical datum.

    Notes
    -----
    Wells within 3 m of a deeper one count as part of it: a nest of wells tells of the ground down
    to its deepest. A hole that ends farther below all others than the site is wide says nothing of
    the depth beside it: it counts as deep as the deepest of the others, or it would pull the
    surface down into a funnel.
    """
    ends = np.vstack([path.at([path.length_m]) for path in paths_of(site).values()])
    return Surface(*deepest_of_nests(ends[:, :2], without_funnels(ends)))


def without_funnels(ends: Array) -> Array:
    """Elevations of the ends of holes, a lone deep one no deeper than the others.

    Parameters
    ----------
    ends : Array, shape (n, 3) [m]
        Ends of the holes.

    Returns
    -------
    Array, shape (n,) [m]
        Elevations.
    """
    low = ends[:, 2].copy()
    if len(low) < FEW_HOLES:
        return low
    width = float(np.hypot(*np.ptp(ends[:, :2], axis=0)))
    for k in range(len(low)):
        others = np.delete(ends[:, 2], k)
        beyond = float(others.min() - ends[k, 2])
        usual = float(np.ptp(others))
        if beyond > FAR_DEEPER * max(width, usual):
            low[k] = others.min()
    return low


def deepest_of_nests(xy: Array, elevation_m: Array) -> tuple[Array, Array]:
    """The ends that have no deeper one beside them.

    Parameters
    ----------
    xy : Array, shape (n, 2) [m]
        Ends of the holes.
    elevation_m : Array, shape (n,) [m]
        Theirs.

    Returns
    -------
    tuple of Array, shape (k, 2) and (k,) [m]
        In the same order; beside means within `NEST_M`, or `NEST_SHARE` of the extent.
    """
    reach = max(NEST_M, NEST_SHARE * float(np.hypot(*np.ptp(xy, axis=0))))
    kept: list[int] = []
    for row in np.argsort(elevation_m, kind="stable"):
        if all(np.hypot(*(xy[row] - xy[other])) > reach for other in kept):
            kept.append(int(row))
    order = np.sort(np.array(kept, dtype=np.intp))
    return xy[order], elevation_m[order]


@made_of("head", most=4)
def water_of(site: Site) -> Surface | None:
    """Water level through the shallowest head of each borehole at its latest date.

    Parameters
    ----------
    site : Site
        Its table `head` is read.

    Returns
    -------
    Surface or None
        Elevation [m]; None where no head is known. The remarks give the dates.
    """
    heads = site.table("head")
    heads = heads[heads["head_m"].notna()]
    if heads.empty:
        return None
    top = shallowest_heads(heads)
    days = sorted({d for d in top["day"] if d})
    notes = "" if not days else days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    return Surface(top[["x", "y"]].to_numpy(np.float64), top["head_m"].to_numpy(np.float64), notes)


def shallowest_heads(heads: pd.DataFrame) -> pd.DataFrame:
    """Of each borehole the head of its latest day that was taken highest.

    Parameters
    ----------
    heads : DataFrame
        Rows of the table `head` with a head.

    Returns
    -------
    DataFrame
        By borehole: `x`, `y`, `head_m` [m] and `day`, empty where the time is not known.
    """
    import pandas as pd
    import shapely

    shapes = np.asarray(heads.geometry)
    frame = pd.DataFrame(
        {
            "borehole": heads["borehole"].to_numpy(),
            "day": heads["measured_at"]
            .astype(str)
            .str[:10]
            .where(heads["measured_at"].notna(), ""),
            "x": shapely.get_x(shapes),
            "y": shapely.get_y(shapes),
            "z": shapely.get_z(shapes),
            "head_m": heads["head_m"].to_numpy(np.float64),
        }
    )
    ordered = frame.sort_values(["borehole", "day", "z"], kind="stable")
    return ordered.groupby("borehole", sort=True).tail(1).set_index("borehole")
