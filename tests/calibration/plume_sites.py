"""Synthetic plume sites that share no code with the engine: truth on cells, tests of intervals.

A steady plume from a patch (error functions; Domenico 1987 without longitudinal spreading), bent
and roughened by its own random waves, sampled as interval averages with laboratory noise. Other
kinds of truth lie outside what the engine's plume-shaped means can follow.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import erf, erfc

from geoprofile import kriging

CRITERION = np.log10(5.0)
BACKGROUND = 0.02
NOISE = 0.08  # [log10] of the laboratory
LENGTHS = np.array([30.0, 12.0, 2.5])  # [m] of the waves: along, across, up
KINDS = ("plume", "bent", "two sources", "layered fronts", "no plume")
PLACE = np.array([3.0e5, 6.0e6, 100.0])


@dataclass(frozen=True)
class Known:
    """What no engine can know: the smooth mean at places, the waves' sd, the azimuth."""

    mean: Callable
    sd: float
    azimuth_deg: float


@dataclass(frozen=True)
class PlumeSite:
    """A site: data, the cells of its truth (log10) and the direction of flow that is believed."""

    data: kriging.Data
    cells: np.ndarray
    truth: np.ndarray
    azimuth_deg: float
    known: Known | None = None


@dataclass(frozen=True)
class Patch:
    """A source and how its plume spreads, fades and winds; lengths [m], decay [1/m]."""

    width: float
    height: float
    strength: float
    decay: float
    spread_v: float
    spread_w: float
    wiggle: float
    wave: float
    phase: float
    depth: float
    across: float = 0.0

    @classmethod
    def random(cls, rng, bend):
        """A plume that may wind by up to 12 m, or by `bend`."""
        width, height = rng.uniform(15, 50), rng.uniform(2, 6)
        strength, decay = 10 ** rng.uniform(2.5, 4), rng.uniform(0.2, 1.5) / 200
        spread_v, spread_w = 10 ** rng.uniform(-0.5, 0.5), 10 ** rng.uniform(-2, -1)
        wiggle = rng.uniform(0, 12) if bend is None else bend
        wave, phase, depth = rng.uniform(120, 260), rng.uniform(0, 6), rng.uniform(-20, -8)
        return cls(width, height, strength, decay, spread_v, spread_w, wiggle, wave, phase, depth)

    def at(self, uvw):
        """Concentration at places along, across flow and up."""
        u, v, w = uvw.T
        v = v - self.across - self.wiggle * np.sin(2 * np.pi * u / self.wave + self.phase)
        w = w - self.depth + 0.01 * u
        down = np.maximum(u, 0.5)
        shape = box(v, self.width, 2 * np.sqrt(self.spread_v * down))
        shape = shape * box(w, self.height, 2 * np.sqrt(self.spread_w * down))
        return self.strength * np.exp(-self.decay * down + np.minimum(u, 0) / 4) * shape


def box(x, width, spread):
    """A box from -width/2 to width/2, smoothed."""
    return 0.5 * (erf((x + width / 2) / spread) - erf((x - width / 2) / spread))


def fronts(patch, rng):
    """A plume that has come a different way in every layer: steps down, a front in each."""
    edges = np.cumsum(rng.uniform(2, 5, 12))
    reach = rng.uniform(20, 240, 13)

    def at(uvw):
        ahead = uvw[:, 0] - reach[np.searchsorted(edges, -uvw[:, 2])]
        return patch.at(uvw) * 0.5 * erfc(ahead / 8)

    return at


def clean_truth(kind, patch, rng):
    """Concentration of the smooth part of one kind of truth, a function of (u, v, w)."""
    if kind == "layered fronts":
        return fronts(patch, rng)
    if kind == "two sources":
        across = rng.choice([-1, 1]) * rng.uniform(35, 60)
        second = replace(
            patch,
            across=across,
            depth=rng.uniform(-20, -8),
            strength=patch.strength * 10 ** rng.uniform(-1, 0),
        )
        return lambda uvw: patch.at(uvw) + second.at(uvw)
    return patch.at


def rough(rng, places, sd, lengths, waves=120):
    """A stationary random field as a sum of waves with a heavy-tailed spectrum."""
    direction = rng.normal(size=(waves, 3)) / np.abs(rng.normal(size=(waves, 1)))
    phase = rng.uniform(0, 2 * np.pi, waves)
    out = np.zeros(len(places))
    for first in range(0, len(places), 4000):
        block = places[first : first + 4000] / lengths
        out[first : first + 4000] = np.cos(block @ direction.T + phase).sum(1)
    return sd * np.sqrt(2 / waves) * out


def intervals(rng, holes, leaning):
    """Ends of tested intervals, in holes of which a share leans by 20 to 35 degrees."""
    spots = np.column_stack([rng.uniform(-50, 255, holes), rng.normal(0, 35, holes)])
    lean_rng = np.random.default_rng(holes)
    for hole, spot in enumerate(spots):
        lean = np.radians(lean_rng.uniform(20, 35)) * (lean_rng.random() < leaning)
        turn = lean_rng.uniform(0, 2 * np.pi)
        aside = np.tan(lean) * np.array([np.cos(turn), np.sin(turn)])
        for top in -np.sort(rng.uniform(0, 26, int(rng.integers(5, 16)))):
            level = top - rng.uniform(1, 2.5) * np.linspace(0, 1, 9)
            yield hole, np.column_stack([spot - level[:, None] * aside, level])


def plume_site(seed, *, holes=None, limit=None, kind="plume", leaning=0.0):
    """One random site; `limit` is the reporting limit over the criterion."""
    rng = np.random.default_rng([seed, 77])
    holes = holes or int(rng.integers(9, 41))
    azimuth = rng.uniform(0, 360)
    patch = Patch.random(rng, 35.0 if kind == "bent" else None)
    sd = rng.uniform(0.2, 0.5)
    noise_seed = int(rng.integers(2**31))
    clean = clean_truth(kind, patch, np.random.default_rng([seed, 78]))

    def smooth(uvw):
        return np.log10(clean(uvw) + BACKGROUND)

    def field(uvw):
        field_rng = np.random.default_rng(noise_seed)
        if kind == "no plume":
            return 0.3 + rough(field_rng, uvw, 1.0, np.array([60.0, 30.0, 5.0]))
        return smooth(uvw) + rough(field_rng, uvw, sd, LENGTHS)

    lines, value, group = [], [], []
    for hole, inside in intervals(rng, holes, leaning):
        value.append(np.log10(np.mean(10 ** field(inside))) + NOISE * rng.normal())
        lines.append(inside[[0, -1]])
        group.append(hole)
    limit = CRITERION + (np.log10(rng.uniform(0.05, 0.2)) if limit is None else np.log10(limit))
    turn = turned(azimuth)
    data = reported([to_map(line, turn) for line in lines], np.array(value), limit, np.array(group))
    lattice = np.meshgrid(np.arange(-50, 260, 8.0), np.arange(-76, 80, 6.0), np.arange(-29, 0, 2.0))
    uvw = np.stack([axis.ravel() for axis in lattice], axis=1)
    known = Known(lambda xyz: smooth(from_map(xyz, turn)), sd, azimuth)
    believed = azimuth + 10 * rng.normal()
    return PlumeSite(data, to_map(uvw, turn), field(uvw), believed, known)


def turned(azimuth):
    """Axes along and across flow, one a row, in easting and northing."""
    angle = np.radians(azimuth)
    return np.array([[np.sin(angle), np.cos(angle)], [np.cos(angle), -np.sin(angle)]])


def to_map(uvw, turn):
    """Places along, across, up as easting, northing, elevation."""
    return np.column_stack([uvw[:, :2] @ turn, uvw[:, 2]]) + PLACE


def from_map(xyz, turn):
    """The way back."""
    local = xyz - PLACE
    return np.column_stack([local[:, :2] @ turn.T, local[:, 2]])


def reported(lines, value, limit, group):
    """What the laboratory reports: values, and non-detects below their limit."""
    hidden = value < limit
    return kriging.Data(
        support=kriging.Support.from_lines(lines),
        value=np.where(hidden, np.nan, value),
        upper=np.where(hidden, limit, np.nan),
        variance=np.full(len(value), NOISE**2),
        group=group,
    )
