"""The invented plumes: advection from a patch with steady transverse dispersion and decay."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import erf

from maker.ground import ORIGIN, SEED, flow_direction, log10_conductivity
from maker.waves import Waves, exponential_waves, wave_sum

SOURCE = np.array([55.0, 101.0, 3.5])  # centre of the patch, local [m]
DIP = 4.0  # below horizontal, along flow [deg]
EDGE = 3.0  # upgradient decay length [m]
PATCHINESS = 0.2  # sd of the small-scale field [log10]
PATCH_LENGTHS = np.array([25.0, 25.0, 2.0])  # [m]


@dataclass(frozen=True)
class Plume:
    """One substance: what leaves the source and how it fades."""

    analyte: str
    cas: str
    source_ug_per_l: float
    decay_per_m: float
    width_m: float
    height_m: float
    dispersivity_across_m: float
    dispersivity_up_m: float
    criterion_ug_per_l: float
    limits_ug_per_l: tuple[float, float]  # reporting limit of round 1 and of round 2
    round_factors: tuple[float, float]


PLUMES = (
    Plume("TCE", "79-01-6", 40_000.0, 0.036, 18.0, 7.0, 0.7, 0.25, 10.0, (1.0, 0.5), (1.0, 0.8)),
    Plume("benzene", "71-43-2", 9_000.0, 0.033, 14.0, 5.0, 0.7, 0.25, 1.0, (0.5, 0.2), (1.0, 0.7)),
)
ROUNDS = ("R1", "R2")


def flow_frame(points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Distance along, across and above the plume's axis [m] of points (n, 3)."""
    x, y, z = (np.asarray(points, dtype=float) - [*ORIGIN, 0.0] - SOURCE).T
    east, north = flow_direction()
    along = x * east + y * north
    across = -x * north + y * east
    return along, across, z + np.tan(np.radians(DIP)) * along


@cache
def patches(index: int) -> Waves:
    """The small-scale field of one substance."""
    return exponential_waves(np.random.default_rng([SEED, 2, index]), 400, PATCH_LENGTHS)


def steady_shape(distance: np.ndarray, size: float, dispersivity: float) -> np.ndarray:
    """Share left at a distance off the axis: the two-sided error-function solution."""
    offset, along = distance
    width = 2.0 * np.sqrt(dispersivity * (np.maximum(along, 0.0) + 1.0))
    return 0.5 * (erf((offset + size / 2) / width) - erf((offset - size / 2) / width))


def concentration(points: np.ndarray, analyte: str, sampling_round: str) -> np.ndarray:
    """True concentration [ug/L] at points (n, 3) in the site CRS."""
    index = [p.analyte for p in PLUMES].index(analyte)
    factor = PLUMES[index].round_factors[ROUNDS.index(sampling_round)]
    local = np.asarray(points, dtype=float) - [*ORIGIN, 0.0]
    patchy = 10.0 ** (PATCHINESS * wave_sum(local, patches(index)))
    return factor * smooth(points, PLUMES[index]) * patchy


def smooth(points: np.ndarray, plume: Plume) -> np.ndarray:
    """Concentration [ug/L] of round 1 at points (n, 3), without the small-scale field."""
    along, across, above = flow_frame(points)
    shape = steady_shape(np.stack([across, along]), plume.width_m, plume.dispersivity_across_m)
    shape *= steady_shape(np.stack([above, along]), plume.height_m, plume.dispersivity_up_m)
    fade = np.where(along < 0, along / EDGE, -plume.decay_per_m * along)
    return plume.source_ug_per_l * shape * np.exp(fade)


def interval_concentration(points: np.ndarray, analyte: str, sampling_round: str) -> float:
    """K-weighted mean concentration [ug/L] over evenly spaced points along an interval."""
    weight = 10.0 ** log10_conductivity(points)
    return float(np.sum(weight * concentration(points, analyte, sampling_round)) / np.sum(weight))
