"""All tests of a hole at once: K in cells finer than a zone, and what skin and Kv/Kh add to P.

Both add one number s to P, whatever the length of the zone, while P itself grows with the log of
the length: zones of different lengths over the same ground tell s from K. Where they do not, the
prior of s comes through and nothing is pretended.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from geoprofile.hydraulics.posterior import quantiles
from geoprofile.hydraulics.tests import Array

TEST_SD_LN = 0.12  # [-] error of one test beyond its parts: layers, zone ends; on invented holes
CELL_M, MOST_CELLS = 0.25, 240
SPREADS = (0.3, 0.8, 1.5)  # [-] sd of ln K along the hole that are averaged over
LENGTHS_M = (0.6, 2.5)  # [m] correlation lengths that are averaged over
NODES = 25  # values of s
WIDE_LN = 3.0  # [-] sd of the mean of ln K
MOST_STEPS = 12
LEAST_SHARE = 0.3  # [-] of P that is left


@dataclass(frozen=True, eq=False)
class Zones:
    """Tested zones of one hole: `top_m`, `bottom_m` (n,) along the hole, `ln_k` as fitted with
    nothing added to P, `log_ratio` P (n,) [-], `sd_ln` (n,) of their own errors [-].
    """

    top_m: Array
    bottom_m: Array
    ln_k: Array
    log_ratio: Array
    sd_ln: Array


@dataclass(frozen=True, eq=False)
class HoleProfile:
    """K of cells and zones of a hole: 2.5, 50 and 97.5 % of ln K, `cells` (m, 3), `zones` (n, 3).

    `edges_m` (m + 1,) of the cells; `cell_sd`, `zone_sd` sds of ln K; `shift` its three
    quantiles, `shift_prior_sd` and `shift_sd` what the tests made of its spread; `told` whether
    lengths differ enough to find it.
    """

    edges_m: Array
    cells: Array
    cell_sd: Array
    zones: Array
    zone_sd: Array
    shift: tuple[float, float, float]
    shift_prior_sd: float
    shift_sd: float
    told: bool


def invert_hole(zones: Zones, shifts: Array, *, shared_sd_ln: float) -> HoleProfile:
    """K profile of one hole from all its tests.

    Parameters
    ----------
    zones : Zones [-]
        Two or more zones with K.
    shifts : Array, shape (d,) [-]
        Draws of what skin and Kv/Kh may add to P, from their prior; no shift is among them.
    shared_sd_ln : float [-]
        Sd of ln K by what all tests of the hole share: radii.

    Returns
    -------
    HoleProfile [-]
        Averaged over s, the spread and the correlation of ln K by their evidence.

    Notes
    -----
    ln K of a zone is the ln of the length-weighted mean of K of its cells, less ln((P + s)/P); a
    normal prior with exponential correlation on ln K of the cells; Gauss-Newton and the covariance
    of Laplace for each of the averaged choices.

    References
    ----------
    Hawkins (1956) for s; Tarantola (2005), Inverse Problem Theory, ch. 3, from memory.
    """
    edges = _edges(zones)
    weight = _weights(zones, edges)
    middle = 0.5 * (edges[1:] + edges[:-1])
    nodes, prior = _nodes(shifts)
    apart = np.abs(middle[:, None] - middle[None, :])
    noise = np.hypot(zones.sd_ln, TEST_SD_LN)
    runs = []
    for spread, length in product(SPREADS, LENGTHS_M):
        covariance = spread**2 * np.exp(-apart / length) + WIDE_LN**2
        start = np.full(middle.size, float(np.mean(zones.ln_k)))
        for s, log_prior in zip(nodes, np.log(prior), strict=True):
            one = _laplace(zones, weight, covariance, noise, float(s), start)
            start = one.y
            runs.append((one.evidence + log_prior, float(s), one))
    log = np.array([r[0] for r in runs])
    share = np.exp(log - log.max())
    share /= share.sum()
    s = np.array([r[1] for r in runs])
    cells, cell_sd = _mixed(share, [(r[2].y, r[2].cell_sd) for r in runs], shared_sd_ln)
    values, zone_sd = _mixed(share, [(r[2].zone, r[2].zone_sd) for r in runs], shared_sd_ln)
    mean = float(share @ s)
    return HoleProfile(
        edges,
        cells,
        cell_sd,
        values,
        zone_sd,
        quantiles(s, share),
        float(np.std(shifts)),
        math.sqrt(float(share @ (s - mean) ** 2)),
        lengths_differ(zones),
    )


def lengths_differ(zones: Zones) -> bool:
    """Whether zones of different lengths lie over the same ground, so that s can be found.

    Parameters
    ----------
    zones : Zones [-]
        Of one hole.

    Returns
    -------
    bool [-]
        Three or more pairs in which a zone holds one of half its length or less.
    """
    length = zones.bottom_m - zones.top_m
    inside = (zones.top_m[:, None] >= zones.top_m - 0.05) & (
        zones.bottom_m[:, None] <= zones.bottom_m + 0.05
    )
    return int(np.count_nonzero(inside & (length[:, None] <= 0.5 * length))) >= 3


@dataclass(frozen=True, eq=False)
class _Run:
    """One choice of s, spread and correlation."""

    y: Array
    cell_sd: Array
    zone: Array
    zone_sd: Array
    evidence: float


def _edges(zones: Zones) -> Array:
    """Cells from the uppermost zone to the lowest, at all ends of zones."""
    low, high = float(zones.top_m.min()), float(zones.bottom_m.max())
    size = max(CELL_M, (high - low) / MOST_CELLS)
    count = max(round((high - low) / size), 1)
    return np.linspace(low, high, count + 1)


def _weights(zones: Zones, edges: Array) -> Array:
    """Share of every zone in every cell (n, m), rows summing to 1."""
    both = np.minimum(zones.bottom_m[:, None], edges[1:]) - np.maximum(
        zones.top_m[:, None], edges[:-1]
    )
    share = np.maximum(both, 0.0)
    return np.asarray(share / share.sum(1, keepdims=True))


def _nodes(shifts: Array) -> tuple[Array, Array]:
    """Values of s and their prior mass: no shift at all is one of them."""
    edges = np.quantile(shifts, np.linspace(0.002, 0.998, NODES + 1))
    edges = np.unique(edges.round(6))
    if edges.size < 3:
        return np.array([float(np.median(shifts))]), np.ones(1)
    index = np.clip(np.searchsorted(edges, shifts, side="right") - 1, 0, edges.size - 2)
    mass = np.bincount(index, minlength=edges.size - 1).astype(np.float64)
    total = np.bincount(index, weights=shifts, minlength=edges.size - 1)
    held = mass > 0
    return total[held] / mass[held], mass[held] / mass.sum()


def _laplace(
    zones: Zones, weight: Array, covariance: Array, noise: Array, s: float, start: Array
) -> _Run:
    """Most probable cells for one s, and their covariance."""
    p = zones.log_ratio
    shift = np.log(np.maximum((p + s) / p, LEAST_SHARE))
    mean, y = float(np.mean(zones.ln_k + shift)), start
    for _ in range(MOST_STEPS):
        zone, slope = _zone(weight, y)
        cross = covariance @ slope.T
        gain = slope @ cross + np.diag(noise**2)
        right = zones.ln_k + shift - zone + slope @ (y - mean)
        new = mean + cross @ np.linalg.solve(gain, right)
        step = float(np.max(np.abs(new - y)))
        y = y + np.clip(new - y, -2.0, 2.0)
        if step < 1e-3:
            break
    zone, slope = _zone(weight, y)
    cross = covariance @ slope.T
    gain = slope @ cross + np.diag(noise**2)
    solved = np.linalg.solve(gain, cross.T)
    cell = np.diag(covariance) - np.einsum("ij,ji->i", cross, solved)
    after = slope @ cross - slope @ cross @ np.linalg.solve(gain, slope @ cross)
    right = zones.ln_k + shift - zone + slope @ (y - mean)
    _, size = np.linalg.slogdet(gain)
    evidence = -0.5 * float(right @ np.linalg.solve(gain, right)) - 0.5 * float(size)
    return _Run(
        y,
        np.sqrt(np.maximum(cell, 1e-6)),
        zone,
        np.sqrt(np.maximum(np.diag(after), 1e-6)),
        evidence,
    )


def _zone(weight: Array, y: Array) -> tuple[Array, Array]:
    """Ln of the mean K of every zone and its slopes by the cells."""
    top = float(y.max())
    part = weight * np.exp(y - top)
    whole = part.sum(1)
    return np.log(whole) + top, part / whole[:, None]


def _mixed(
    share: Array, parts: Sequence[tuple[Array, Array]], shared: float
) -> tuple[Array, Array]:
    """Quantiles (n, 3) and sds (n,) of a mixture of normals."""
    kept = [int(i) for i in np.flatnonzero(share > 1e-4)]
    mean = np.stack([parts[i][0] for i in kept], axis=1)
    sd = np.hypot(np.stack([parts[i][1] for i in kept], axis=1), shared)
    w = share[kept] / share[kept].sum()
    centre = mean @ w
    whole = np.sqrt(((mean - centre[:, None]) ** 2 + sd**2) @ w)
    z = np.linspace(-3.2, 3.2, 65)
    density = np.exp(-0.5 * z**2)
    density /= density.sum()
    out = np.empty((mean.shape[0], 3))
    both = (w[:, None] * density[None, :]).ravel()
    for i in range(mean.shape[0]):
        out[i] = quantiles((mean[i][:, None] + sd[i][:, None] * z).ravel(), both)
    return out, np.asarray(whole)
