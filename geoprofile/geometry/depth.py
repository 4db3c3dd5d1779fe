"""One depth in a borehole, said in three ways: along the hole, vertical below ground, elevation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geoprofile.geometry.trajectory import Path

ALONG = "along the hole"  # as the tables say it

STEP_M = 0.5  # [m] along the hole, between which one crossing of a level is looked for


@dataclass(frozen=True)
class Depth:
    """A place in a borehole; in a vertical hole `along_m` and `vertical_m` are the same.

    `along_m` is measured along the hole from ground, `vertical_m` straight down from ground, both
    positive down [m]; `elevation_m` is up from the vertical datum. `along_m` is NaN where the hole
    never reaches that elevation.
    """

    along_m: float
    vertical_m: float
    elevation_m: float


def along_hole(path: Path, depth_m: float) -> Depth:
    """The depth that a tape shows which lies along the hole.

    Parameters
    ----------
    path : Path [-]
        Of the borehole.
    depth_m : float [m]
        Along the hole from ground, positive down; below 0 for a level above ground.

    Returns
    -------
    Depth [m]
        The same place in all three ways.

    Examples
    --------
    40 m along a straight hole at 60 degrees from vertical are 20 m of vertical depth.
    """
    ground = float(path.at([0.0])[0, 2])
    if depth_m < 0:  # water above ground stands in a pipe upright
        return Depth(depth_m, depth_m, ground - depth_m)
    z = float(path.at([depth_m])[0, 2])
    return Depth(float(depth_m), ground - z, z)


def below_ground(path: Path, depth_m: float) -> Depth:
    """The depth that lies straight below the ground at the hole.

    Parameters
    ----------
    path : Path [-]
        Of the borehole.
    depth_m : float [m]
        Vertical, positive down; below 0 for a level above ground.

    Returns
    -------
    Depth [m]
        The same place in all three ways; the first one down the hole where it is met twice.
    """
    ground = float(path.at([0.0])[0, 2])
    return Depth(_along(path, float(depth_m)), float(depth_m), ground - depth_m)


def depth_of(path: Path, depth_m: float, way: str) -> Depth:
    """The depth measured in one of the two ways.

    Parameters
    ----------
    path : Path [-]
        Of the borehole.
    depth_m : float [m]
        Positive down from ground.
    way : str [-]
        "along the hole" or "vertical".

    Returns
    -------
    Depth [m]
        The same place in all three ways.
    """
    return along_hole(path, depth_m) if way == ALONG else below_ground(path, depth_m)


def _along(path: Path, vertical_m: float) -> float:
    """Depth along the hole at which it first reaches a vertical depth [m]; NaN for never."""
    from scipy.optimize import brentq

    if vertical_m <= 0:
        return vertical_m

    def gap(along: float) -> float:
        return float(path.vertical_depth([along])[0]) - vertical_m

    nodes = np.unique(
        np.append(np.linspace(0.0, path.length_m, int(path.length_m / STEP_M) + 2), path.length_m)
    )
    below = np.flatnonzero(path.vertical_depth(nodes) >= vertical_m)
    if len(below):
        first = int(below[0])
        return float(brentq(gap, nodes[first - 1], nodes[first], xtol=1e-10))
    fall = -float(path.at([path.length_m + 1.0])[0, 2] - path.at([path.length_m])[0, 2])
    return path.length_m - gap(path.length_m) / fall if fall > 1e-6 else float("nan")
