"""Known truth in: plumes found, probabilities that hold, intervals that cover.

Goals are the project's own; every test prints the figures that it judges.
"""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from geoprofile import geostat
from geoprofile.geostat.mixture import below

pytestmark = pytest.mark.calibration

path = Path(__file__).with_name("plume_sites.py")
spec = importlib.util.spec_from_file_location("plume_sites", path)
ps = importlib.util.module_from_spec(spec)
sys.modules["plume_sites"] = ps
spec.loader.exec_module(ps)

SITES = 12


def fitted(site, mean, seed=0):
    """A field fitted with the direction of flow that is believed."""
    prior = geostat.Prior(azimuth_deg=site.azimuth_deg)
    return geostat.fit(site.data, rng=np.random.default_rng(seed), prior=prior, mean=mean)


def score(site, chance):
    """IoU, log-loss and expected volume over the true one."""
    real = (site.truth > ps.CRITERION).sum()
    return ps.overlap(chance, site.truth), ps.log_loss(chance, site.truth), chance.sum() / real


def run(sites, means):
    """Scores of every mean on every site, shape (sites, 3) by name."""
    table = {mean: [] for mean in means}
    for site in sites:
        for mean in means:
            chance = fitted(site, mean).exceedance(site.cells, ps.CRITERION)
            table[mean].append(score(site, chance))
    return {mean: np.array(rows) for mean, rows in table.items()}


def aligned(site, places):
    """Coordinates stretched 2:1 along the believed flow and 20:1 upwards, for the baselines."""
    angle = np.radians(site.azimuth_deg)
    east, north, up = places.T
    along = east * np.sin(angle) + north * np.cos(angle)
    across = east * np.cos(angle) - north * np.sin(angle)
    return np.column_stack([along / 2, across, up * 10])


def baseline(site, power):
    """Inverse distance (or linear, power None) of log10 values, half the limit for non-detects."""
    value = np.where(site.data.censored, site.data.upper - np.log10(2), site.data.value)
    here = aligned(site, site.data.support.centre)
    there = aligned(site, site.cells)
    if power is None:
        found = LinearNDInterpolator(here, value)(there)
        return (np.nan_to_num(found, nan=-9.0) > ps.CRITERION).astype(float)
    found = np.empty(len(there))
    for first in range(0, len(there), 2000):
        gap = np.linalg.norm(there[first : first + 2000, None] - here[None], axis=2)
        weight = 1 / (gap + 1e-9) ** power
        found[first : first + 2000] = weight @ value / weight.sum(1)
    return (found > ps.CRITERION).astype(float)


@pytest.fixture(scope="module")
def plumes():
    """Random plume sites."""
    return [ps.plume_site(seed) for seed in range(100, 100 + SITES)]


@pytest.fixture(scope="module")
def stacked(plumes):
    """Their scores by the stack and by ordinary kriging."""
    return run(plumes, ("stack", "constant"))


def test_plumes_are_found(plumes, stacked):
    """Goal: mean IoU 0.75, none below 0.45, and 0.15 over simple flow-aligned methods."""
    simple = {p: np.mean([score(s, baseline(s, p))[0] for s in plumes]) for p in (None, 3)}
    for mean, rows in stacked.items():
        print(mean, rows.mean(0).round(3), "worst IoU", rows[:, 0].min().round(3))
    print("linear and inverse distance", simple)
    iou = stacked["stack"][:, 0]
    assert iou.mean() >= 0.75
    assert iou.min() >= 0.45
    assert iou.mean() >= max(simple.values()) + 0.15


@pytest.mark.xfail(reason="a known miss: 0.115 measured on these sites (kriging 0.168)")
def test_probability_of_what_is_true(stacked):
    """Goal: log-loss 0.09 on average."""
    loss = stacked["stack"][:, 1]
    print("log-loss", loss.mean().round(3), loss.round(3))
    assert loss.mean() <= 0.09


def test_volume_with_a_high_limit():
    """Reporting limit at half the criterion: goal is expected volume within 15 %."""
    sites = [ps.plume_site(seed, limit=0.5) for seed in range(200, 200 + SITES)]
    ratio = run(sites, ("stack",))["stack"][:, 2]
    print("expected over true volume", ratio.mean().round(3), ratio.round(2))
    assert abs(ratio.mean() - 1) <= 0.15


def test_no_harm_where_there_is_no_plume():
    """Stationary random fields: goal is at most 0.02 IoU and 0.03 log-loss worse than kriging."""
    sites = [ps.plume_site(seed, plume=False) for seed in range(300, 300 + SITES)]
    table = run(sites, ("stack", "constant"))
    loss = table["stack"].mean(0) - table["constant"].mean(0)
    print("stack less kriging: IoU, log-loss", loss[:2].round(3))
    assert loss[0] >= -0.02
    assert loss[1] <= 0.03


def test_held_out_boreholes_are_covered(plumes):
    """Goal: 50, 80 and 95 % intervals hold 45-55, 75-85 and 90-100 % of left-out tests."""
    rng, central = np.random.default_rng(0), []
    for site in plumes:
        found = fitted(site, "stack").cross_validate()
        chance = np.exp(found.log_density) * rng.random(len(found.log_density))
        position = np.where(site.data.censored, chance, found.position)
        central.append(np.abs(2 * position - 1))
    inside = np.concatenate(central)
    coverage = [np.mean(inside <= level) for level in (0.5, 0.8, 0.95)]
    print("coverage", np.round(coverage, 3))
    np.testing.assert_allclose(coverage, (0.5, 0.8, 0.95), atol=0.05)


@pytest.mark.parametrize("holes", [5, 8, 12])
def test_few_boreholes_cost_little_score(holes):
    """Goal: log score at unsampled places at most 0.05 above that of the true parameters."""
    from geoprofile.geostat.means import Constant
    from geoprofile.geostat.system import Layout, System

    true = geostat.Parameters(
        sill=0.5, nugget=0.05, length_along_m=60, length_across_m=30, length_vertical_m=5,
        azimuth_deg=40,
    )  # fmt: skip
    excess = []
    for seed in range(40):
        rng = np.random.default_rng([seed, holes])
        spots = rng.uniform(0, 200, (holes, 2))
        tops = [[x, y, -2.0 * k] for x, y in spots for k in range(10)]
        lines = [np.array([t, [t[0], t[1], t[2] - 1.5]]) for t in tops]
        points = rng.uniform([0, 0, -20], [200, 200, 0], (200, 3))
        both = geostat.Support.from_lines([*lines, *(p[None] for p in points)])
        blank = geostat.Data(support=both, value=np.zeros(len(both)))
        quiet = geostat.Parameters(**{**vars(true), "nugget": 1e-8})
        value = System.build(Layout.of(blank, Constant(), quiet), quiet).lower @ rng.normal(
            size=len(both)
        )
        noisy = value[: len(lines)] + true.nugget**0.5 * rng.normal(size=len(lines))
        data = geostat.Data(
            support=geostat.Support.from_lines(lines),
            value=noisy,
            group=np.repeat(np.arange(holes), 10),
        )
        prior = geostat.Prior(azimuth_deg=40 + 10 * rng.normal())
        model = geostat.fit(data, rng=rng, prior=prior)
        scores = []
        for one in (model, geostat.krige(data, true)):
            found = one.predict(points)
            z = (value[len(lines) :] - found.mean) / found.sd
            scores.append(np.mean(0.5 * z**2 + np.log(found.sd)))
        excess.append(scores[0] - scores[1])
    print(holes, "boreholes: excess log score", np.mean(excess).round(4))
    assert np.mean(excess) <= 0.05


def test_probabilities_hold(plumes):
    """Cells given 20-80 % lie above the criterion about as often (within 10 points)."""
    chance, real = [], []
    for site in plumes[:6]:
        model = fitted(site, "stack")
        chance.append(1 - below(model.parts(site.cells[::7]), ps.CRITERION))
        real.append(site.truth[::7] > ps.CRITERION)
    chance, real = np.concatenate(chance), np.concatenate(real)
    unsure = (chance > 0.2) & (chance < 0.8)
    print("said", chance[unsure].mean().round(3), "found", real[unsure].mean().round(3))
    assert abs(chance[unsure].mean() - real[unsure].mean()) < 0.1
