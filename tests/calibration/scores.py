"""How well a field says where the criterion is exceeded, beside simple methods and a ceiling."""

import os
from dataclasses import dataclass

import numpy as np
from plume_sites import CRITERION, LENGTHS
from scipy.interpolate import LinearNDInterpolator

from geoprofile import kriging
from geoprofile.kriging.fit.censoring import first_draws, sweep
from geoprofile.kriging.predict.mixture import below
from geoprofile.kriging.predict.predictor import Member
from geoprofile.kriging.solve.system import Layout, System

# Sites of each kind; more on request, as in CALIBRATION_SITES=100 python -m pytest -m calibration
SITES = int(os.environ.get("CALIBRATION_SITES", "30"))


@dataclass(frozen=True)
class Score:
    """Of one field on one site: overlap, mean -ln probability of what is true, volume ratio."""

    iou: float
    log_loss: float
    volume: float

    @classmethod
    def of(cls, chance, truth):
        """Judge the chance of exceedance of every cell."""
        real = truth > CRITERION
        found = chance > 0.5
        safe = np.clip(chance, 1e-4, 1 - 1e-4)
        return cls(
            (found & real).sum() / max((found | real).sum(), 1),
            -np.mean(np.log(np.where(real, safe, 1 - safe))),
            chance.sum() / max(real.sum(), 1),
        )


def fitted(site, mean):
    """A field fitted with the direction of flow that is believed."""
    prior = kriging.Prior(azimuth_deg=site.azimuth_deg)
    return kriging.fit(site.data, rng=np.random.default_rng(0), prior=prior, mean=mean)


def judged(site, mean):
    """Its score."""
    return Score.of(fitted(site, mean).exceedance(site.cells, CRITERION), site.truth)


def table(scores):
    """Scores as columns, shape (sites, 3): overlap, log-loss, volume ratio."""
    return np.array([[s.iou, s.log_loss, s.volume] for s in scores])


def beside_kriging(sites):
    """Scores of the stack and of ordinary kriging on the same sites; prints them."""
    stack, plain = [], []
    for site in sites:
        stack.append(judged(site, "stack"))
        plain.append(judged(site, "constant"))
    stack, plain = table(stack), table(plain)
    print("IoU and log-loss of the stack, of kriging", stack[:, :2].mean(0), plain[:, :2].mean(0))
    print(np.hstack([stack[:, :2], plain[:, :2]]).round(3))
    return stack, plain


def aligned(site, places):
    """Coordinates stretched 2:1 along the believed flow and 20:1 upwards, for simple methods."""
    angle = np.radians(site.azimuth_deg)
    east, north, up = places.T
    along = east * np.sin(angle) + north * np.cos(angle)
    across = east * np.cos(angle) - north * np.sin(angle)
    return np.column_stack([along / 2, across, up * 10])


def simple(site, power):
    """Inverse distance (or linear, power None) of log10 values, half the limit for non-detects."""
    value = np.where(site.data.censored, site.data.upper - np.log10(2), site.data.value)
    here = aligned(site, site.data.support.centre)
    there = aligned(site, site.cells)
    if power is None:
        found = LinearNDInterpolator(here, value)(there)
        return Score.of((np.nan_to_num(found, nan=-9.0) > CRITERION).astype(float), site.truth)
    found = np.empty(len(there))
    for first in range(0, len(there), 2000):
        gap = np.linalg.norm(there[first : first + 2000, None] - here[None], axis=2)
        weight = 1 / (gap + 1e-9) ** power
        found[first : first + 2000] = weight @ value / weight.sum(1)
    return Score.of((found > CRITERION).astype(float), site.truth)


@dataclass(frozen=True)
class Given:
    """The true smooth mean, nothing to estimate."""

    at: object
    kind: str = "given"

    def basis(self, xyz):
        """None."""
        return np.zeros((len(xyz), 0))

    def precision(self, sill):
        """None."""
        return np.zeros(0)

    def over(self, places, weights):
        """Linear averages of the concentration over the intervals."""
        n, g = places.shape[:2]
        value = self.at(places.reshape(-1, 3)).reshape(n, g)
        return np.log10(10**value @ weights), np.zeros((n, 0))


def ceiling(site):
    """Score of one who knows the true mean, covariance and noise: no engine can do better."""
    known, rng = site.known, np.random.default_rng(0)
    along, across, vertical = LENGTHS
    true = kriging.Parameters(
        sill=known.sd**2,
        nugget=1e-6,
        length_along_m=along,
        length_across_m=across,
        length_vertical_m=vertical,
        azimuth_deg=known.azimuth_deg,
    )
    mean = Given(known.mean)
    layout = Layout.of(site.data, mean, true)
    system = System.build(layout, true)
    values = sweep(
        site.data,
        first_draws(site.data, 60, rng),
        system.projection,
        sweeps=40,
        rng=rng,
        offset=layout.offset,
    )
    member = Member(site.data, true, mean, values)
    chance = np.empty(len(site.cells))
    for first in range(0, len(chance), 2000):
        cells = site.cells[first : first + 2000]
        means, variance = member.block(cells)
        means = means + known.mean(cells)[:, None]
        chance[first : first + 2000] = 1 - below([(1.0, means, np.sqrt(variance))], CRITERION)
    return Score.of(chance, site.truth)
