"""Synthetic plume sites that share no code with the engine: truth on cells, tests of intervals.

A steady plume from a patch (error functions; Domenico 1987 without longitudinal spreading), bent
and roughened by its own random waves, sampled as interval averages with laboratory noise.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import erf

from geoprofile import geostat

CRITERION = np.log10(5.0)


@dataclass(frozen=True)
class PlumeSite:
    """A site: data, the cells of its truth (log10) and the direction of flow that is believed."""

    data: geostat.Data
    cells: np.ndarray
    truth: np.ndarray
    azimuth_deg: float


def rough(rng, places, sd, lengths, waves=120):
    """A stationary random field as a sum of waves with a heavy-tailed spectrum."""
    direction = rng.normal(size=(waves, 3)) / np.abs(rng.normal(size=(waves, 1)))
    phase = rng.uniform(0, 2 * np.pi, waves)
    out = np.zeros(len(places))
    for first in range(0, len(places), 4000):
        block = places[first : first + 4000] / lengths
        out[first : first + 4000] = np.cos(block @ direction.T + phase).sum(1)
    return sd * np.sqrt(2 / waves) * out


def plume_site(seed, *, holes=None, limit=None, plume=True, bend=None):
    """One random site; `plume=False` gives a truth with no plume's shape at all."""
    rng = np.random.default_rng([seed, 77])
    holes = holes or int(rng.integers(9, 41))
    azimuth = rng.uniform(0, 360)
    width, height = rng.uniform(15, 50), rng.uniform(2, 6)
    strength, decay = 10 ** rng.uniform(2.5, 4), rng.uniform(0.2, 1.5) / 200
    spread_v, spread_w = 10 ** rng.uniform(-0.5, 0.5), 10 ** rng.uniform(-2, -1)
    wiggle = rng.uniform(0, 12) if bend is None else bend
    wave, phase, depth = rng.uniform(120, 260), rng.uniform(0, 6), rng.uniform(-20, -8)
    sd = rng.uniform(0.2, 0.5)
    angle = np.radians(azimuth)
    turn = np.array([[np.sin(angle), np.cos(angle)], [np.cos(angle), -np.sin(angle)]])
    noise_seed = int(rng.integers(2**31))

    def field(uvw):
        u, v, w = uvw.T
        field_rng = np.random.default_rng(noise_seed)
        if not plume:
            waves = rough(field_rng, uvw, 1.0, np.array([60.0, 30.0, 5.0]))
            return 0.3 + waves
        v = v - wiggle * np.sin(2 * np.pi * u / wave + phase)
        down = np.maximum(u, 0.5)
        sv, sw = 2 * np.sqrt(spread_v * down), 2 * np.sqrt(spread_w * down)
        shape = 0.25 * (erf((v + width / 2) / sv) - erf((v - width / 2) / sv))
        w = w - depth + 0.01 * u
        shape = shape * (erf((w + height / 2) / sw) - erf((w - height / 2) / sw))
        clean = strength * np.exp(-decay * down) * shape * np.exp(np.minimum(u, 0) / 4)
        waves = rough(field_rng, uvw, sd, np.array([30.0, 12.0, 2.5]))
        return np.log10(clean + 0.02) + waves

    lattice = np.meshgrid(np.arange(-50, 260, 8.0), np.arange(-76, 80, 6.0), np.arange(-29, 0, 2.0))
    uvw = np.stack([axis.ravel() for axis in lattice], axis=1)
    spots = np.column_stack([rng.uniform(-50, 255, holes), rng.normal(0, 35, holes)])
    lines, value, group = [], [], []
    for hole, spot in enumerate(spots):
        for top in -np.sort(rng.uniform(0, 26, int(rng.integers(5, 16)))):
            length = rng.uniform(1, 2.5)
            inside = np.column_stack([np.tile(spot, (9, 1)), top - length * np.linspace(0, 1, 9)])
            mean = np.log10(np.mean(10 ** field(inside)))
            value.append(mean + 0.08 * rng.normal())
            lines.append(inside[[0, -1]])
            group.append(hole)
    limit = CRITERION + (np.log10(rng.uniform(0.05, 0.2)) if limit is None else np.log10(limit))
    value = np.array(value)
    hidden = value < limit
    place = np.array([3.0e5, 6.0e6, 100.0])

    def to_map(points):
        return np.column_stack([points[:, :2] @ turn, points[:, 2]]) + place

    data = geostat.Data(
        support=geostat.Support.from_lines([to_map(line) for line in lines]),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, limit, np.nan),
        variance=np.full(len(value), 0.0064),
        group=np.array(group),
    )
    believed = azimuth + 10 * rng.normal()
    return PlumeSite(data, to_map(uvw), field(uvw), believed)


def overlap(chance, truth):
    """Intersection over union of the volumes above the criterion."""
    found, real = chance > 0.5, truth > CRITERION
    return (found & real).sum() / max((found | real).sum(), 1)


def log_loss(chance, truth):
    """Mean of -ln probability given to what is true."""
    chance = np.clip(chance, 1e-4, 1 - 1e-4)
    real = truth > CRITERION
    return -np.mean(np.where(real, np.log(chance), np.log(1 - chance)))
