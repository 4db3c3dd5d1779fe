"""Sites whose discharge and plume are known in closed form: a steady patch source in even flow.

C = C0 / 4 times the differences of two error functions across and up; it solves v C_x = D_y C_yy +
D_z C_zz, so that every plane across the flow carries q C0 Y Z. Shares no code with the program.
"""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.special import erf

from geoprofile.site import Site

CRS = "EPSG:32628"
CORNER = np.array([400_000.0, 5_000_000.0])
LENGTH, BREADTH, GROUND, HEAD, DEPTH = 240.0, 80.0, 10.0, 8.0, 24.0
SECONDS_PER_DAY = 86400.0


@dataclass(frozen=True)
class Plume:
    """A patch source [m, ug/L] in even flow to the east; spreads are dispersivities [m].

    The source stands `start` [m] from the western edge of the site.
    """

    strength: float = 2000.0
    width: float = 20.0
    height: float = 6.0
    middle: float = -4.0
    spread_across: float = 0.4
    spread_up: float = 0.03
    gradient: float = 0.005
    limit: float = 0.5
    criterion: float = 10.0
    start: float = 20.0

    def at(self, points):
        """Concentration [ug/L] at points (n, 3) in map coordinates; nothing upstream."""
        x, y, z = (
            np.asarray(points) - [CORNER[0] + self.start, CORNER[1] + BREADTH / 2, self.middle]
        ).T
        down = np.maximum(x, 1e-6)
        across, up = 2 * np.sqrt(self.spread_across * down), 2 * np.sqrt(self.spread_up * down)
        found = (
            self.strength
            / 4
            * (erf((y + self.width / 2) / across) - erf((y - self.width / 2) / across))
            * (erf((z + self.height / 2) / up) - erf((z - self.height / 2) / up))
        )
        return np.where(x > 0, found, 0.0)

    def source_g_per_day(self, k):
        """What the patch gives off when K [m/s] is even: q C0 Y Z."""
        flux = k * self.gradient * SECONDS_PER_DAY
        return flux * self.strength * 1e-3 * self.width * self.height


def lattice(step):
    """Middles of boxes (n, 3) over the site below the water, and their volume [m3]."""
    axes = [np.arange(step[0] / 2, LENGTH, step[0]), np.arange(step[1] / 2, BREADTH, step[1])]
    axes.append(np.arange(GROUND - DEPTH + step[2] / 2, HEAD, step[2]))
    x, y, z = (a.ravel() for a in np.meshgrid(*axes, indexing="ij"))
    return np.column_stack([x + CORNER[0], y + CORNER[1], z]), float(np.prod(step))


def head_at(plume, points):
    """Water level [m] at points (n, 2) or (n, 3): a plane that falls to the east."""
    return HEAD - plume.gradient * (np.asarray(points)[:, 0] - CORNER[0] - LENGTH / 2)


def rough_k(rng, *, middle, sd, lengths=(40.0, 20.0, 3.0), waves=150):
    """K [m/s] as a function of points: a sum of waves in log10, heavy tailed in wave number."""
    number = rng.normal(size=(waves, 3)) / np.abs(rng.normal(size=(waves, 1))) / lengths
    phase = rng.uniform(0, 2 * np.pi, waves)

    def k_of(points):
        found = np.empty(len(points))
        for first in range(0, len(points), 20_000):
            block = (points[first : first + 20_000] - [*CORNER, 0.0]) @ number.T
            found[first : first + 20_000] = np.cos(block + phase).sum(axis=1)
        return 10 ** (middle + sd * np.sqrt(2 / waves) * found)

    return k_of


def discharge_through(plume, k_of, distance, step=(0.5, 0.1)):
    """Sum of K i C [g/d] over the plane at a distance [m] from the western edge."""
    y = np.arange(1.0 + step[0] / 2, BREADTH - 1.0, step[0])
    z = np.arange(GROUND - DEPTH + step[1] / 2, HEAD + 2.0, step[1])
    y, z = (a.ravel() for a in np.meshgrid(y, z))
    points = np.column_stack([np.full(len(y), CORNER[0] + distance), CORNER[1] + y, z])
    points = points[points[:, 2] < head_at(plume, points)]
    flux = k_of(points) * plume.gradient * SECONDS_PER_DAY * plume.at(points) * 1e-3
    return float(flux.sum() * step[0] * step[1])


def holes_on_grid(columns, rows):
    """Places (n, 2) in even steps over the site."""
    x = (np.arange(columns) + 0.5) * LENGTH / columns
    y = (np.arange(rows) + 0.5) * BREADTH / rows
    return np.array([(a, b) for a in x for b in y]) + CORNER


def site_of(plume, places, *, k_of, tops, rng, noise=0.02, head_noise=0.0, length=1.5):
    """A site with intervals in vertical holes at `places`: K, concentrations and heads.

    `k_of(points)` gives K [m/s] at points (n, 3); `tops` are depths [m] of the tops of intervals.
    """
    names = [f"H{k:03d}" for k in range(len(places))]
    holes = pd.DataFrame({"borehole": names, "x": places[:, 0], "y": places[:, 1]})
    holes = holes.assign(ground_elevation_m=GROUND, measuring_point_height_m=0.0, depth_m=DEPTH)
    rows = [
        (f"{name}-{k}", name, top, top + length) for name in names for k, top in enumerate(tops)
    ]
    intervals = pd.DataFrame(rows, columns=["interval", "borehole", "top_m", "bottom_m"])
    place = np.repeat(places, len(tops), axis=0)
    depth = np.tile(tops, len(places))[:, None] + length * (np.arange(9) + 0.5) / 9
    inside = np.concatenate([np.repeat(place, 9, axis=0), GROUND - depth.reshape(-1, 1)], axis=1)
    k = k_of(inside).reshape(-1, 9)
    value = (plume.at(inside).reshape(-1, 9) * k).sum(1) / k.sum(1)  # water comes where K is high
    log_k = np.log10(k.mean(axis=1)) + noise * rng.standard_normal(len(rows))
    value = value * 10 ** (noise * rng.standard_normal(len(rows)))
    ends = np.stack([np.column_stack([place, GROUND - depth[:, 0]])] * 2, axis=1)
    ends[:, 1, 2] -= length
    lines = [shapely.LineString(pair) for pair in ends]
    holes["head_m"] = head_at(plume, places) + head_noise * rng.standard_normal(len(places))
    return _site(plume, holes, intervals, lines, log_k=log_k, value=value, noise=noise)


def _site(plume, holes, intervals, lines, *, log_k, value, noise):
    """The tables that fields, flow and discharge are made from."""
    common = intervals
    conductivity = gpd.GeoDataFrame(
        common.assign(
            k_m_per_s=10**log_k,
            k_low_m_per_s=10 ** (log_k - 1.96 * noise),
            k_high_m_per_s=10 ** (log_k + 1.96 * noise),
            sd_log10_k=noise,
            grade="accepted",
            notes=None,
        ),
        geometry=lines,
        crs=CRS,
    )
    found = value >= plume.limit
    concentration = gpd.GeoDataFrame(
        common.assign(
            analyte="solvent",
            round="one",
            medium="water",
            sampled_at="2040-05-08T10:00:00Z",
            value_ug_per_l=np.where(found, value, np.nan),
            detected=found,
            limit_ug_per_l=np.where(found, np.nan, plume.limit),
            sd_log10=noise,
            exceeds=value > plume.criterion,
        ),
        geometry=lines,
        crs=CRS,
    )
    heads = gpd.GeoDataFrame(
        {
            "interval": None,
            "borehole": holes["borehole"],
            "measured_at": "2040-05-08T09:00:00Z",
            "head_m": holes["head_m"],
        },
        geometry=[shapely.Point(h.x, h.y, GROUND - 5.0) for h in holes.itertuples()],
        crs=CRS,
    )
    area = gpd.GeoDataFrame(
        {"name": ["site"], "kind": ["site"]},
        geometry=[shapely.box(*CORNER, *np.add(CORNER, [LENGTH, BREADTH]))],
        crs=CRS,
    )
    tables = {
        "borehole": gpd.GeoDataFrame(
            holes.drop(columns="head_m"),
            geometry=[shapely.Point(h.x, h.y, GROUND) for h in holes.itertuples()],
            crs=CRS,
        ),
        "interval": intervals.assign(isolation="straddle", packer=None, static_depth_m=2.0),
        "interval_conductivity": conductivity,
        "concentration": concentration,
        "head": heads,
        "area": area,
        "criterion": pd.DataFrame(
            {
                "analyte": ["solvent"],
                "value": [plume.criterion],
                "unit": ["ug/L"],
                "basis": ["invented"],
            }
        ),
    }
    return Site("analytic", CRS, "invented datum", tables=tables)


def with_planes(site, distances):
    """The site with section lines across the flow, `distances` [m] from its western edge."""
    lines = [shapely.LineString(np.add(CORNER, [[d, 1.0], [d, BREADTH - 1.0]])) for d in distances]
    frame = gpd.GeoDataFrame({"name": [f"at {d:g} m" for d in distances]}, geometry=lines, crs=CRS)
    return site.with_tables({"section_line": frame})
