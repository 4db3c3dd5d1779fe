"""The invented boreholes: collars, paths, construction, lithology, equipment and intervals."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from maker.ground import (
    BASE_ELEVATION,
    ORIGIN,
    SEED,
    ground_elevation,
    head,
    log10_conductivity,
)

HOLE_DIAMETER_MM = 96.0
CASING_DIAMETER_MM = 104.0
PACKERS = (
    # packer, deflated, min hole, max hole, element, seating, max inflation, depth, water, pipe
    ("PK-A", 72, 76, 122, 1.0, 350, 2400, 120, 100, 38, "gas"),
    ("PK-B", 86, 92, 150, 1.2, 300, 1800, 90, 80, 38, "water"),
)
SPACERS = (("S10", 1.0), ("S15", 1.5), ("S20", 2.0), ("S30", 3.0))
POINTS_ALONG = 41


@dataclass(frozen=True)
class Hole:
    """One borehole: local collar, depth, bottom of the casing, stations (depth, incl, azimuth)."""

    name: str
    x: float
    y: float
    depth: float
    casing: float
    drilled_on: str
    stations: tuple[tuple[float, float, float], ...] = ()
    remarks: str = ""

    @property
    def collar(self) -> np.ndarray:
        """Easting, northing and ground elevation [m]."""
        xy = np.round(ORIGIN + np.array([self.x, self.y]), 2)
        return np.array([*xy, round(float(ground_elevation(xy[None])[0]), 2)])


def stations(azimuth: float, start: float, build: float, depth: float) -> tuple:
    """Survey stations every 6 m: inclination grows by `build` degrees per station."""
    depths = [*np.arange(0.0, depth, 6.0), depth]
    return tuple(
        (float(d), round(start + build * i, 1), round(azimuth + 0.4 * (i % 3), 1))
        for i, d in enumerate(depths)
    )


HOLES = (
    Hole("001", 18.4, 112.6, 34.0, 4.5, "2024-03-04"),
    Hole("002", 61.2, 99.3, 36.0, 4.5, "2024-03-06"),
    Hole("003", 84.7, 88.1, 38.5, 6.0, "2024-03-08"),
    Hole("004", 86.3, 117.9, 41.0, 4.5, "2024-03-11", stations(20, 18, 0.6, 41.0), "inclined"),
    Hole("005", 118.2, 105.0, 42.0, 4.5, "2024-03-13"),
    Hole("006", 126.5, 78.4, 37.0, 4.5, "2024-03-15"),
    Hole("007", 121.6, 136.8, 40.0, 4.5, "2024-03-18", (), "broken bed, loss of drilling water"),
    Hole("008", 163.9, 109.7, 44.0, 22.0, "2024-03-21", (), "cased to half depth"),
    Hole("009", 171.0, 84.2, 42.0, 4.5, "2024-03-25", stations(205, 22, 0.5, 42.0), "inclined"),
    Hole("010", 168.8, 143.5, 36.0, 4.5, "2024-03-27"),
    Hole("011", 214.6, 113.9, 43.0, 4.5, "2024-04-01"),
    Hole("012", 221.3, 82.6, 40.0, 4.5, "2024-04-03"),
    Hole("013", 226.0, 151.4, 35.0, 4.5, "2024-04-05"),
    Hole("014", 274.9, 118.8, 30.0, 22.0, "2024-04-08", (), "screened well"),
)


@dataclass(frozen=True)
class Interval:
    """One isolated interval; depths along the hole [m]."""

    name: str
    hole: Hole
    top: float
    bottom: float
    isolation: str
    packer: str

    def points(self) -> np.ndarray:
        """Evenly spaced points (POINTS_ALONG, 3) along the interval, in the site CRS."""
        share = (np.arange(POINTS_ALONG) + 0.5) / POINTS_ALONG
        return position(self.hole, self.top + share * (self.bottom - self.top))

    def vertical(self) -> tuple[float, float]:
        """Vertical depths [m] of top and bottom below ground."""
        ends = position(self.hole, np.array([self.top, self.bottom]))
        return tuple(float(v) for v in self.hole.collar[2] - ends[:, 2])

    def static_depth(self) -> float:
        """Vertical depth [m] from ground to the zone's static level."""
        return float(self.hole.collar[2] - np.mean(head(self.points())))

    def inclination(self) -> float:
        """Angle from vertical [rad] of the upper hole, where the water level moves."""
        return float(np.radians(self.hole.stations[0][1])) if self.hole.stations else 0.0


def direction(inclination: float, azimuth: float) -> np.ndarray:
    """Unit vector down the hole: easting, northing, elevation."""
    i, a = np.radians([inclination, azimuth])
    return np.array([np.sin(i) * np.sin(a), np.sin(i) * np.cos(a), -np.cos(i)])


def position(hole: Hole, depth: np.ndarray) -> np.ndarray:
    """Points (n, 3) at depths (n,) along the hole, each stretch an arc of a circle."""
    depth = np.asarray(depth, dtype=float)
    if not hole.stations:
        return hole.collar + depth[:, None] * np.array([0.0, 0.0, -1.0])
    out = np.empty((len(depth), 3))
    start = hole.collar
    for (d1, i1, a1), (d2, i2, a2) in pairwise(hole.stations):
        inside = (depth >= d1) & (depth <= d2)
        out[inside] = start + arc(direction(i1, a1), direction(i2, a2), d2 - d1, depth[inside] - d1)
        start = start + arc(direction(i1, a1), direction(i2, a2), d2 - d1, np.array([d2 - d1]))[0]
    return out


def arc(first: np.ndarray, last: np.ndarray, length: float, along: np.ndarray) -> np.ndarray:
    """Displacements (n, 3) at distances `along` (n,) on the arc between two directions."""
    bend = np.arccos(np.clip(np.sum(first * last), -1.0, 1.0))
    if bend < 1e-9:
        return along[:, None] * first
    side = (last - np.cos(bend) * first) / np.sin(bend)
    turn = bend * along / length
    radius = length / bend
    forward = radius * np.sin(turn)[:, None] * first
    return forward + radius * (1.0 - np.cos(turn))[:, None] * side


def intervals() -> list[Interval]:
    """All intervals, from the top of each hole down; packer element to packer element."""
    rng = np.random.default_rng([SEED, 3])
    out: list[Interval] = []
    for number, hole in enumerate(HOLES):
        out += hole_intervals(hole, "PK-A" if number % 3 else "PK-B", rng)
    return out


def hole_intervals(hole: Hole, packer: str, rng: np.random.Generator) -> list[Interval]:
    """The intervals of one hole: straddled zones and, last, the zone below a single packer."""
    if hole.name == "014":
        return [Interval("014-01", hole, 22.5, 25.5, "screen", "")]
    element = {p[0]: p[4] for p in PACKERS}[packer]
    spans: list[tuple[float, float, str]] = []
    top = max(hole.casing + element, 6.0)
    if hole.name == "003":
        spans.append((hole.casing, 8.4, "above packer"))
        top = 8.4 + element
    while top + 3.5 < hole.depth:
        length = float(rng.choice([s[1] for s in SPACERS], p=[0.2, 0.25, 0.35, 0.2]))
        spans.append((top, top + length, "straddle"))
        top = round(top + length + element + rng.choice([0.4, 0.8, 1.2]), 1)
    last = max(top, hole.depth - 3.5)
    if hole.depth - last >= 1.0:
        spans.append((last, hole.depth, "below packer"))
    return [
        Interval(f"{hole.name}-{i:02d}", hole, round(a, 1), round(b, 1), how, packer)
        for i, (a, b, how) in enumerate(spans, start=1)
    ]


def construction_rows() -> list[tuple]:
    """borehole, top, bottom, kind, diameter, remarks."""
    rows: list[tuple] = []
    for h in HOLES:
        if h.name == "014":
            rows += [
                (h.name, 0.0, 22.5, "riser", 52.0, ""),
                (h.name, 22.5, 25.5, "screen", 52.0, "slotted"),
                (h.name, 0.0, 20.5, "seal", 120.0, "clay and cement"),
                (h.name, 20.5, 30.0, "filter pack", 120.0, "2-4 mm gravel"),
            ]
            continue
        rows.append((h.name, 0.0, h.casing, "casing", CASING_DIAMETER_MM, "steel, cemented"))
        rows.append((h.name, h.casing, h.depth, "open hole", HOLE_DIAMETER_MM, ""))
    return rows


def rock_unit(mean_log10_k: float) -> tuple[str, str]:
    """Unit and description that a geologist would log for a stretch of that log10 K."""
    if mean_log10_k < -6.0:
        return "siltstone", "grey, laminated, tight"
    if mean_log10_k < -5.0:
        return "fine sandstone", "buff, fine grained, few joints"
    return "sandstone", "buff, medium to coarse, jointed"


def lithology_rows() -> list[tuple]:
    """borehole, top, bottom [m], unit, description: soil, then rock logged in stretches of 1 m."""
    rows: list[tuple] = []
    for h in HOLES:
        rows.append([h.name, 0.0, 2.4, "soil", "silty sand with cobbles"])
        edges = [2.4, *np.arange(4.0, h.depth, 1.0), h.depth]
        for a, b in pairwise(edges):
            points = position(h, np.linspace(a, b, 11)[:-1] + (b - a) / 20)
            unit, description = rock_unit(float(np.mean(log10_conductivity(points))))
            if rows[-1][3] == unit:
                rows[-1][2] = float(b)
            else:
                rows.append([h.name, float(a), float(b), unit, description])
    return [tuple(r) for r in rows]


def aquifer_thickness(interval: Interval) -> float:
    """From the zone's static level to the base [m]."""
    return interval.hole.collar[2] - interval.static_depth() - BASE_ELEVATION
