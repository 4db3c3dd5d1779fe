"""The invented ground: surface, heads and conductivity at any point of the site."""

from __future__ import annotations

from functools import cache

import numpy as np

from maker.waves import Waves, exponential_waves, wave_sum

SEED = 5
CRS = "EPSG:32628"  # UTM zone 28 north; the spot lies in open ocean
ORIGIN = np.array([512_300.0, 4_986_100.0])  # south-west corner of the domain [m]
SIZE = np.array([300.0, 200.0])  # [m]
BASE_ELEVATION = -33.0  # bottom of the aquifer [m]

FLOW_AZIMUTH = 84.0  # [deg from grid north, clockwise]
GRADIENT = 0.006  # [-]
VERTICAL_GRADIENT = 0.003  # head lost per metre of depth [-]
HEAD_AT_ORIGIN = 9.4  # [m]

MEAN_LOG10_K = -5.5  # [log10 m/s]
SD_LOG10_K = 0.7
LENGTHS = np.array([60.0, 60.0, 3.0])  # a in exp(-h/a) [m]
BEDDING_DIP = 0.02  # beds fall eastwards [m/m]
WAVES = 1500
KV_KH = 0.3
SPECIFIC_STORAGE = 3.0e-6  # [1/m]

# A broken bed around hole 007: thin, very conductive, of small extent.
BROKEN_BED_CENTRE = np.array([122.0, 137.0, -13.2])  # local [m]
BROKEN_BED_RADIUS = 14.0  # [m]
BROKEN_BED_THICKNESS = 1.1  # standard deviation upwards [m]
BROKEN_BED_GAIN = 2.3  # [log10]


def local(points: np.ndarray) -> np.ndarray:
    """Points (n, 3) in the site CRS as local easting, northing and elevation [m]."""
    out = np.array(points, dtype=float)
    out[:, :2] -= ORIGIN
    return out


def flow_direction() -> np.ndarray:
    """Unit vector (2,) of horizontal flow, easting and northing."""
    angle = np.radians(FLOW_AZIMUTH)
    return np.array([np.sin(angle), np.cos(angle)])


def ground_elevation(xy: np.ndarray) -> np.ndarray:
    """Ground level [m] at (n, 2) site coordinates: a gentle slope with a low swell."""
    x, y = (np.asarray(xy) - ORIGIN).T
    return 13.2 - 0.0075 * x + 0.002 * y + 0.25 * np.sin(x / 37.0) * np.cos(y / 29.0)


def head(points: np.ndarray) -> np.ndarray:
    """Static head [m] at points (n, 3), falling along flow and slightly with depth."""
    p = local(points)
    along = p[:, :2] @ flow_direction()
    at_table = HEAD_AT_ORIGIN - GRADIENT * along
    return at_table - VERTICAL_GRADIENT * np.maximum(at_table - p[:, 2], 0.0)


@cache
def conductivity_waves() -> Waves:
    """The one realisation of the conductivity field."""
    return exponential_waves(np.random.default_rng([SEED, 1]), WAVES, LENGTHS)


def log10_conductivity(points: np.ndarray) -> np.ndarray:
    """log10 of K [m/s] at points (n, 3) in the site CRS."""
    p = local(points)
    p[:, 2] += BEDDING_DIP * p[:, 0]
    field = MEAN_LOG10_K + SD_LOG10_K * wave_sum(p, conductivity_waves())
    q = local(points) - BROKEN_BED_CENTRE
    reach = (q[:, 0] ** 2 + q[:, 1] ** 2) / BROKEN_BED_RADIUS**2
    height = (q[:, 2] / BROKEN_BED_THICKNESS) ** 2
    return field + BROKEN_BED_GAIN * np.exp(-0.5 * (reach + height))


def interval_conductivity(points: np.ndarray) -> float:
    """Arithmetic mean of K [m/s] over evenly spaced points along an interval."""
    return float(np.mean(10.0 ** log10_conductivity(points)))
