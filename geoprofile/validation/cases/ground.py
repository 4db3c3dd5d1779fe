"""Places along a hole, heads, discharge, and the field plan."""

from __future__ import annotations

import math

import numpy as np

from geoprofile import packers
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
HEATH_SIDES, HEATH_HEADS = (215.0, 165.0, 150.0), (26.26, 26.20, 26.07)
LAGS = ((6.4, 1e-6, 62.2), (13.3, 1e-6, 269.0), (25.4, 1e-6, 980.0), (50.0, 1e-6, 3800.0))


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
    depth = np.linspace(0, 50 * np.pi, 4)
    path = trajectory((0, 0, 0), 160, (depth, np.degrees(depth / 100), np.full(4, 90.0)))
    return [float(v) for v in path.at([50 * np.pi])[0]]


def _plane(head: Array) -> list[float]:
    wells = np.array([[0.0, 0], [120, 15], [60, 140], [180, 160], [90, 70]])
    plane = head_plane(wells, head - 0.002 * wells @ _down())
    return [plane.gradient, plane.azimuth_deg]


def _down() -> Array:
    return np.array([math.sin(math.radians(65)), math.cos(math.radians(65))])


def _inflation() -> list[float]:
    outside = packers.pressure_at_element(46.0, 12.40)
    gas = packers.gas_line_pressure(outside, 350e3, 330e3, margin=1.3)
    return [gas / 1e3, packers.water_line_pressure(gas, 46.0, gauge_height_m=1.0) / 1e3]


def _inflation_by_hand() -> list[float]:
    head = 999.703 * 9.80665 / 1e3
    gas = 33.6 * head + 350 + 1.3 * 330
    return [gas, gas - 47.0 * head]


def _purge() -> list[float]:
    rate = packers.feasible_rate(1e-7, 1.5, 0.048, drawdown_m=5.0)
    return [
        packers.zone_volume(0.096, 0.0334, 1.5) * 1e3,
        packers.pipe_volume(0.0266, 45.0) * 1e3,
        packers.invaded_volume(0.2e-3 / 60, 3 * 86400) * 1e3,
        rate * 60e3,
        packers.purge_target(34.55e-3).time_s(rate) / 3600,
    ]


CASES = (
    Case(
        "one-arc", "depth", "One arc of 100 ft, inclination 15 to 25, azimuth 20 to 45",
        "Worked example, drillingformulas.com, Minimum Curvature Method; Taylor and Mason (1972)",
        "seen", (27.22, 19.45, 94.01), _arc, "ft", absolute=0.006, labels=("north", "east", "down"),
    ),
    Case(
        "four-stations", "depth", "Four stations to 95 m",
        "General library wellpathpy 0.5, computed once", "derived",
        (-16.64083, 20.25197, 91.03096), _path, "m", absolute=1e-5,
        labels=("north", "east", "down"),
        second=Second("tangents added up in 20 000 chords", _tangents_summed, 1e-6),
    ),
    Case(
        "quarter-circle", "depth", "A quarter circle of radius 100 m in four stations",
        "Closed form", "derived", (100.0, 0.0, -100.0), _quarter, "m", absolute=1e-9,
        labels=("east", "north", "up"),
    ),
    Case(
        "three-points", "heads", "Gradient from three wells",
        "Heath (1983), USGS Water-Supply Paper 2220, read from a drawing", "from memory",
        (9.8e-4,), lambda: [head_plane(_heath_wells(), np.array(HEATH_HEADS)).gradient],
        relative=0.02, second=Second("cross product of two sides", _heath_by_hand, 0.02),
    ),
    Case(
        "five-wells", "heads", "Five wells on a plane of slope 0.002 towards 65 degrees",
        "Closed form", "derived", (0.002, 65.0), lambda: _plane(np.full(5, 50.0)), relative=1e-8,
        labels=("gradient", "azimuth, deg"),
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
    ),
    Case(
        "flux", "discharge", "Flux of 120 ug/L at K 1e-4 m/s and gradient 0.004",
        "Exact arithmetic", "derived", (0.0041472,),
        lambda: [float(mass_flux(1e-4, 120.0, 0.004))], "g/(m2 d)", relative=1e-12,
    ),
    Case(
        "angle-of-flow", "discharge", "Share of the flow across a line", "Sine of the angle",
        "derived", (1.0, -1.0, 0.0, 0.5),
        lambda: [
            float(share_across(a, b)) for a, b in ((0, 90), (0, 270), (45, 45), (350, 20))
        ],
        absolute=1e-12,
    ),
    Case(
        "inflation", "field-work", "Pressure to inflate at 46 m, gas and water line",
        "Own worked example, common practice", "common practice", (1108.4, 647.6), _inflation,
        "kPa", absolute=0.06, labels=("gas line", "water line"),
        second=Second("hydrostatics by hand", _inflation_by_hand, 1e-4),
    ),
    Case(
        "time-lag", "field-work", "Time lag of a 1 m zone for four risers",
        "Hvorslev (1951), case 8, worked by hand", "from memory", tuple(v for _, _, v in LAGS),
        lambda: [packers.time_lag(k, r / 1e3, 1.0, 0.048) for r, k, _ in LAGS], "s",
        relative=5e-3, labels=tuple(f"riser {r:g} mm" for r, _, _ in LAGS),
        second=Second(
            "rc^2 asinh(L / 2 rw) / (2 L K)",
            lambda: [(r / 1e3) ** 2 * math.asinh(1 / 0.096) / (2 * k) for r, k, _ in LAGS], 0.01,
        ),
    ),
    Case(
        "purge", "field-work", "Volumes of zone, pipe and foreign water, rate and time",
        "Own worked examples, common practice", "common practice",
        (9.543, 25.01, 864.0, 0.0821, 21.0), _purge, relative=6e-3,
        labels=("zone, L", "pipe, L", "foreign, L", "rate, L/min", "time, h"),
    ),
)  # fmt: skip
