"""Places along a hole, heads and discharge."""

from __future__ import annotations

import math

import numpy as np

from geoprofile.geometry import trajectory
from geoprofile.products.discharge.mass_flux import mass_discharge, mass_flux, share_across
from geoprofile.products.heads.flow import head_plane
from geoprofile.validation.case import Array, Case, Second

STATIONS = ([0, 30, 60, 95], [12, 15, 17, 22], [110, 118, 131, 150])
# K m/s, gradient, C ug/L, area m2, g/d: exact arithmetic
TRANSECT = (
    (1e-4, 0.004, 120.0, 12.0, 0.0497664),
    (3e-4, 0.004, 850.0, 12.0, 1.0575360),
    (2e-5, 0.005, 15.0, 18.0, 0.0023328),
    (5e-5, 0.005, 2300.0, 18.0, 0.8942400),
)
TRANSECT_SUM = 2.0038752
STATION_COUNTS = (2, 4, 10)
MIDDLE = 100 * math.sqrt(0.5)
FIVE_WELLS = np.array([[0.0, 0], [120, 15], [60, 140], [180, 160], [90, 70]])
HEATH_SIDES, HEATH_HEADS = (215.0, 165.0, 150.0), (26.26, 26.20, 26.07)


def _heath_wells() -> Array:
    side_13, side_12, side_23 = HEATH_SIDES
    angle = math.acos((side_12**2 + side_13**2 - side_23**2) / (2 * side_12 * side_13))
    corner = [side_12 * math.cos(angle), side_12 * math.sin(angle)]
    return np.array([[0.0, 0.0], corner, [side_13, 0.0]])


def _heath_by_hand() -> list[float]:
    """The slope of a plane through three points from the cross product of its sides."""
    points = np.column_stack([_heath_wells(), HEATH_HEADS])
    normal = np.cross(points[1] - points[0], points[2] - points[0])
    return [float(math.hypot(normal[0], normal[1]) / abs(normal[2]))]


def _tangents_summed() -> list[float]:
    """The path added up in 20 000 short chords of great-circle turns."""
    place = np.zeros(3)
    depth, inclination, azimuth = (np.array(v, dtype=float) for v in STATIONS)
    i, a = np.radians(inclination), np.radians(azimuth)
    t = np.column_stack([np.sin(i) * np.cos(a), np.sin(i) * np.sin(a), np.cos(i)])
    for one, two, length in zip(t, t[1:], np.diff(depth), strict=False):
        turn = math.acos(float(one @ two))
        share = (np.arange(20000) + 0.5) / 20000
        mixed = np.outer(np.sin((1 - share) * turn), one) + np.outer(np.sin(share * turn), two)
        place += length * (mixed / math.sin(turn)).mean(axis=0)
    return [float(v) for v in place]


def _path() -> list[float]:
    east, north, up = trajectory((0, 0, 0), 95, STATIONS).at([95.0])[0]
    return [float(north), float(east), float(-up)]


def _arc() -> list[float]:
    east, north, up = trajectory((0, 0, 0), 100, ([0, 100], [15, 25], [20, 45])).at([100.0])[0]
    return [float(north), float(east), float(-up)]


def _quarter() -> list[float]:
    """Ends and middles of a quarter circle of 100 m from 2, 4 and 10 stations."""
    found: list[float] = []
    for count in STATION_COUNTS:
        depth = np.linspace(0, 50 * np.pi, count)
        path = trajectory((0, 0, 0), 160, (depth, np.degrees(depth / 100), np.full(count, 90.0)))
        found += path.at([50 * np.pi])[0].tolist() + path.at([25 * np.pi])[0].tolist()
    return found


def _one_degree() -> list[float]:
    east, _, up = trajectory((0, 0, 0), 100, ([0], [1], [90])).at([100.0])[0]
    return [float(east), float(-up)]


def _disturbed() -> list[float]:
    """Gradient, direction and whether it has a spread, of heads with known errors."""
    plane = head_plane(FIVE_WELLS, _disturbed_heads())
    return [plane.gradient, plane.azimuth_deg, float(plane.azimuth_sd_deg > 0)]


def _disturbed_heads() -> Array:
    return np.asarray(50.0 - 0.002 * FIVE_WELLS @ _down() + np.array([4, -6, 3, 5, -4]) / 1000)


def _normal_equations() -> tuple[float, float, float]:
    design = np.column_stack([np.ones(5), FIVE_WELLS])
    _, gx, gy = np.linalg.solve(design.T @ design, design.T @ _disturbed_heads())
    return math.hypot(gx, gy), math.degrees(math.atan2(-gx, -gy)) % 360, 1.0


def _plane(head: Array) -> list[float]:
    plane = head_plane(FIVE_WELLS, head - 0.002 * FIVE_WELLS @ _down())
    return [plane.gradient, plane.azimuth_deg]


def _down() -> Array:
    return np.array([math.sin(math.radians(65)), math.cos(math.radians(65))])


CASES = (
    Case(
        "one-arc", "depth", "One arc of 100 ft, inclination 15 to 25, azimuth 20 to 45",
        "Worked example, drillingformulas.com, Minimum Curvature Method; Taylor and Mason (1972)",
        "seen", (27.22, 19.45, 94.01), _arc, "ft", absolute=0.006, labels=("north", "east", "down"),
        how="geometry.trajectory", because="printed to 0.01 ft",
    ),
    Case(
        "four-stations", "depth", "Four stations to 95 m",
        "General library wellpathpy 0.5, computed once", "derived",
        (-16.64083, 20.25197, 91.03096), _path, "m", absolute=1e-5,
        labels=("north", "east", "down"), how="geometry.trajectory", because="kept to 1e-5 m",
        second=Second("tangents added up in 20 000 chords", _tangents_summed, 1e-6),
    ),
    Case(
        "quarter-circle", "depth", "A quarter circle of radius 100 m from 2, 4 and 10 stations",
        "Closed form", "derived", (100.0, 0.0, -100.0, 100 - MIDDLE, 0.0, -MIDDLE) * 3, _quarter,
        "m", absolute=1e-9, how="geometry.trajectory",
        labels=tuple(
            f"{what} of the {where}, {count} stations"
            for count in STATION_COUNTS for where in ("end", "middle")
            for what in ("east", "north", "up")
        ),
    ),
    Case(
        "one-degree", "depth", "100 m of a hole 1 degree off vertical", "Closed form", "derived",
        (100 * math.sin(math.radians(1)), 100 * math.cos(math.radians(1))), _one_degree, "m",
        absolute=1e-9, labels=("aside", "down"), how="geometry.trajectory",
    ),
    Case(
        "three-points", "heads", "Gradient from three wells",
        "Heath (1983), USGS Water-Supply Paper 2220, read from a drawing", "from memory",
        (9.8e-4,), lambda: [head_plane(_heath_wells(), np.array(HEATH_HEADS)).gradient],
        relative=0.02, how="head_plane", because="the book measured on a drawing: 0.13 m in 133 m",
        second=Second("cross product of two sides", _heath_by_hand, 0.02),
    ),
    Case(
        "five-wells", "heads", "Five wells on a plane of slope 0.002 towards 65 degrees",
        "Closed form", "derived", (0.002, 65.0), lambda: _plane(np.full(5, 50.0)), relative=1e-9,
        labels=("gradient", "azimuth, deg"), how="head_plane",
    ),
    Case(
        "five-wells-disturbed", "heads", "The same with known errors of millimetres on the heads",
        "Normal equations of least squares", "derived", _normal_equations(), _disturbed,
        relative=1e-6, labels=("gradient", "azimuth, deg", "has a spread"), how="head_plane",
        because="an iterative weighting",
    ),
    Case(
        "transect", "discharge", "Four cells of a transect and their sum",
        "ITRC (2010), definition; own exact arithmetic", "derived",
        (*(row[4] for row in TRANSECT), TRANSECT_SUM),
        lambda: [
            *(mass_discharge([k], [c], [a], gradient=[i]) for k, i, c, a, _ in TRANSECT),
            mass_discharge(*np.array(TRANSECT).T[[0, 2, 3]], gradient=[r[1] for r in TRANSECT]),
        ],
        "g/d", relative=1e-9, labels=("cell 1", "cell 2", "cell 3", "cell 4", "sum"),
        how="mass_discharge",
    ),
    Case(
        "flux", "discharge", "Flux of 120 ug/L at K 1e-4 m/s and gradient 0.004",
        "Exact arithmetic", "derived", (0.0041472,),
        lambda: [float(mass_flux(1e-4, 120.0, 0.004))], "g/(m2 d)", relative=1e-12,
        how="mass_flux",
    ),
    Case(
        "angle-of-flow", "discharge", "Share of the flow across a line", "Sine of the angle",
        "derived", (1.0, -1.0, 0.0, 0.5),
        lambda: [
            float(share_across(a, b)) for a, b in ((0, 90), (0, 270), (45, 45), (350, 20))
        ],
        absolute=1e-12, how="share_across",
        labels=("line 0, flow 90", "line 0, flow 270", "line 45, flow 45", "line 350, flow 20"),
    ),
)  # fmt: skip
