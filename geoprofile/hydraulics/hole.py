"""All tests of a hole at once: K in cells finer than a zone, and what skin and Kv/Kh add to P.

Both add one number s to P, whatever the length of the zone, while P itself grows with the log of
the length: zones of different lengths over the same ground tell s from K. Where they do not, the
prior of s comes through and nothing is pretended. A test feels some of the rock above and below its
zone too (`felt`), short zones the more: without that, layers look like a shift.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from geoprofile.hydraulics.felt import Rock, inside_of, rock_of, seen
from geoprofile.hydraulics.mixture import mixed
from geoprofile.hydraulics.posterior import quantiles
from geoprofile.hydraulics.tests import Array

# [-] error of one test beyond its parts: layers that are not even, the field in them; averaged over
TEST_SDS_LN = (0.05, 0.10)
# [-] error that zones of one length share, for P of long and short zones is not equally right, and
# the difference of ln(length) over which it fades
LENGTH_SD_LN, LENGTH_FADE = 0.05, 1.0
CELL_M, MOST_CELLS = 0.25, 240
BEYOND_M = 2.0  # [m] of rock above and below the tested zones that they feel
SPREADS = (0.4, 1.0, 2.0)  # [-] sd of ln K along the hole that are averaged over
LENGTHS_M = (0.6, 2.5)  # [m] correlation lengths that are averaged over
NODES = 25  # values of s
WIDE_LN = 3.0  # [-] sd of the mean of ln K
MOST_STEPS, CLOSE = 12, 1e-3  # of Gauss-Newton; [-] step of ln K that ends it
LEAST_SHARE = 0.3  # [-] of P that is left
MOST_BEYOND = 0.6  # [-] of what a test feels


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


def invert_hole(
    zones: Zones, shifts: Array, *, shared_sd_ln: float, hole_radius_m: float, kv_kh: float
) -> HoleProfile:
    """K profile of one hole from all its tests.

    Parameters
    ----------
    zones : Zones [-]
        Two or more zones with K.
    shifts : Array, shape (d,) [-]
        Draws of what skin and Kv/Kh may add to P, from their prior; no shift is among them.
    shared_sd_ln : float [-]
        Sd of ln K by what all tests of the hole share: radii.
    hole_radius_m : float [m]
        Of the hole.
    kv_kh : float [-]
        Vertical over horizontal K.

    Returns
    -------
    HoleProfile [-]
        Averaged over s, the spread and the correlation of ln K, and the error of a test, by their
        evidence.

    Notes
    -----
    K of a zone is the length-weighted mean of K of its cells; a test sees that and the rock beyond,
    the latter by its share of the lost head, which a skin makes smaller; both less ln((P + s)/P). A
    normal prior with exponential correlation on ln K of the cells; Gauss-Newton and the covariance
    of Laplace for each of the averaged choices.

    References
    ----------
    Hawkins (1956) for s; Tarantola (2005), Inverse Problem Theory, ch. 3, from memory.
    """
    edges, pad = _edges(zones)
    rock = rock_of(zones.top_m, zones.bottom_m, edges, hole_radius_m, kv_kh=kv_kh)
    middle = 0.5 * (edges[1:] + edges[:-1])
    nodes, prior = _nodes(shifts)
    apart = np.abs(middle[:, None] - middle[None, :])
    log_length = np.log(zones.bottom_m - zones.top_m)
    unlike = np.abs(log_length[:, None] - log_length[None, :])
    shared = LENGTH_SD_LN**2 * np.exp(-unlike / LENGTH_FADE)
    choices = np.array(list(product(LENGTHS_M, SPREADS, TEST_SDS_LN)))
    before = _Before(
        np.exp(-apart / np.array(LENGTHS_M)[:, None, None]),
        np.searchsorted(LENGTHS_M, choices[:, 0]),
        choices[:, 1] ** 2,
        np.stack([np.diag(zones.sd_ln**2 + error**2) + shared for error in choices[:, 2]]),
    )
    y = np.full((len(choices), middle.size), float(np.mean(zones.ln_k)))
    runs = []
    for node in nodes:  # each begins where the one before ended
        runs.append(_laplace(zones, rock, before, float(node), y))
        y = runs[-1].y
    log = (np.stack([r.evidence for r in runs], axis=1) + np.log(prior)).ravel()
    share = np.exp(log - log.max())
    share /= share.sum()
    s = np.tile(nodes, len(choices))
    mean_of_cells, sd_of_cells = _all([(r.y, r.cell_sd) for r in runs])
    cells, cell_sd = mixed(share, mean_of_cells, np.hypot(sd_of_cells, shared_sd_ln))
    mean_of_zones, sd_of_zones = _all([(r.zone, r.zone_sd) for r in runs])
    values, zone_sd = mixed(share, mean_of_zones, np.hypot(sd_of_zones, shared_sd_ln))
    mean = float(share @ s)
    tested = slice(pad, middle.size - pad)
    return HoleProfile(
        edges[pad : edges.size - pad],
        cells[tested],
        cell_sd[tested],
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
class _Before:
    """What is believed before the tests, of c choices: `correlation` (l, m, m) of the cells and
    which of them `length` (c,) is meant, rising; `variance` (c,) of ln K, `noise` (c, n, n) of the
    tests.
    """

    correlation: Array
    length: NDArray[np.intp]
    variance: Array
    noise: Array

    def of(self, choices: NDArray[np.intp]) -> _Before:
        """Of some of the choices, in rising order."""
        return replace(
            self,
            length=self.length[choices],
            variance=self.variance[choices],
            noise=self.noise[choices],
        )

    def covariance(self, weight: Array) -> Array:
        """Of weighted means (c, n, m), whose weights sum to 1, with the cells (c, n, m)."""
        out = np.empty(weight.shape)
        first = np.searchsorted(self.length, np.arange(len(self.correlation) + 1))
        for one, begin, end in zip(self.correlation, first[:-1], first[1:], strict=True):
            together = weight[begin:end].reshape(-1, len(one))
            out[begin:end] = (together @ one).reshape(-1, *out.shape[1:])
        out *= self.variance[:, None, None]
        out += WIDE_LN**2
        return out


@dataclass(frozen=True, eq=False)
class _Runs:
    """One s with every choice of spread, correlation and error: `y`, `cell_sd` (c, m) of the cells,
    `zone`, `zone_sd` (c, n) of the zones, `evidence` (c,).
    """

    y: Array
    cell_sd: Array
    zone: Array
    zone_sd: Array
    evidence: Array


def _edges(zones: Zones) -> tuple[Array, int]:
    """Cells from above the uppermost zone to below the lowest, and how many lie beyond each."""
    low, high = float(zones.top_m.min()), float(zones.bottom_m.max())
    size = max(CELL_M, (high - low) / MOST_CELLS)
    count = max(round((high - low) / size), 1)
    size = (high - low) / count
    pad = max(round(BEYOND_M / size), 1)
    return np.linspace(low - pad * size, high + pad * size, count + 2 * pad + 1), pad


def _nodes(shifts: Array) -> tuple[Array, Array]:
    """Values of s, evenly apart so that the tails are met too, and their prior mass."""
    low, high = np.quantile(shifts, (0.001, 0.999))
    if high - low < 1e-6:
        return np.array([float(np.median(shifts))]), np.ones(1)
    edges = np.linspace(low, high, NODES + 1)
    index = np.clip(np.searchsorted(edges, shifts, side="right") - 1, 0, NODES - 1)
    mass = np.bincount(index, minlength=NODES).astype(np.float64)
    total = np.bincount(index, weights=shifts, minlength=NODES)
    held = mass > 0
    return total[held] / mass[held], mass[held] / mass.sum()


def _laplace(zones: Zones, rock: Rock, before: _Before, s: float, start: Array) -> _Runs:
    """Most probable cells for one s and c choices from `start` (c, m), and their covariance."""
    p = zones.log_ratio
    left = np.maximum((p + s) / p, LEAST_SHARE)
    share = np.clip(rock.share / left, 0.0, MOST_BEYOND)
    observed = zones.ln_k + np.log(left)
    mean, y = float(np.mean(observed)), start.copy()
    moving, still = np.arange(len(y)), before
    part, last = np.ones((len(y), 1)), np.zeros(y.shape)
    for _ in range(MOST_STEPS):
        now = y[moving]
        across, gain, right = _linear(rock, share, still, observed - mean, now - mean)
        solved = np.linalg.solve(gain, right[..., None])
        step = mean + (solved.transpose(0, 2, 1) @ across)[:, 0] - now
        back = (step * last[moving]).sum(1, keepdims=True) < 0.0  # it went too far
        part[moving] = np.where(back, 0.5 * part[moving], part[moving])
        last[moving] = step
        y[moving] = now + part[moving] * np.minimum(np.maximum(step, -2.0), 2.0)
        further = np.abs(step).max(1) >= CLOSE
        if not further.any():
            break
        if not further.all():  # a choice that has settled stays
            moving = moving[further]
            still = before.of(moving)
    across, gain, right = _linear(rock, share, before, observed - mean, y - mean)
    solved = np.linalg.solve(gain, np.concatenate((across, right[..., None]), axis=2))
    cell = before.variance[:, None] + WIDE_LN**2 - (across * solved[..., :-1]).sum(1)
    zone, own = inside_of(rock, y)
    to_tests = across @ own.transpose(0, 2, 1)
    told = (to_tests * np.linalg.solve(gain, to_tests)).sum(1)
    after = (before.covariance(own) * own).sum(2) - told
    return _Runs(
        y,
        np.sqrt(np.maximum(cell, 1e-6)),
        zone,
        np.sqrt(np.maximum(after, 1e-6)),
        -0.5 * (right * solved[..., -1]).sum(1) - 0.5 * np.linalg.slogdet(gain)[1],
    )


def _linear(
    rock: Rock, share: Array, before: _Before, observed: Array, y: Array
) -> tuple[Array, Array, Array]:
    """Tests as linear functions of the cells about some y, both less the mean of ln K.

    Covariance of tests and cells (c, n, m), of tests (c, n, n), and tests less what the mean of
    the cells would give (c, n).
    """
    value, slope = seen(rock, share, y)
    across = before.covariance(slope)
    gain = across @ slope.transpose(0, 2, 1) + before.noise
    return across, gain, observed - value + (slope @ y[..., None])[..., 0]


def _all(parts: Sequence[tuple[Array, Array]]) -> tuple[Array, Array]:
    """Means and sds of every choice with every s, (c s, n) each, from those (c, n) of each s."""
    mean, sd = (np.stack(one, axis=1) for one in zip(*parts, strict=True))
    return mean.reshape(-1, mean.shape[2]), sd.reshape(-1, sd.shape[2])
