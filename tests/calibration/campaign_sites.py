"""Made-up sites for campaigns of tests; shares no code with the engine.

A plume from a patch spreads along flow (error functions; Domenico 1987 without longitudinal
spreading), roughened by waves. Some zones of the existing holes are tested at the start; the rest,
and the zones of possible new holes, are candidates.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import erf

from geoprofile import kriging

CRITERION = 1.0  # [log10 ug/L]
LIMIT = -0.3  # [log10 ug/L] reporting limit
NOISE = 0.05  # [log10] of the laboratory
ZONES = 8
CANDIDATES = 100  # zones that the advice looks at, the least decided ones
DECIDED = 0.005  # [-] a chance below that is left out, as the layer does
LENGTH_M = 1.5


@dataclass(frozen=True)
class CampaignSite:
    """Zones with their true result, which of them are tested at the start, and the true cells."""

    lines: list
    result: np.ndarray
    hole: np.ndarray
    started: np.ndarray
    cells: np.ndarray
    volume_m3: float
    truth: np.ndarray

    def data(self, index):
        """What the laboratory reports of some zones."""
        value = self.result[index]
        hidden = value < LIMIT
        return kriging.Data(
            support=kriging.Support.from_lines([self.lines[i] for i in index]),
            value=np.where(hidden, np.nan, value),
            upper=np.where(hidden, LIMIT, np.nan),
            variance=np.full(len(index), NOISE**2),
            group=self.hole[index],
        )


def campaign_site(seed, *, holes=15, places=45, tested=30):
    """One site: flow along easting, 15 holes of which 30 zones are tested, 45 possible holes."""
    rng = np.random.default_rng([seed, 41])
    width, height, depth = rng.uniform(20, 45), rng.uniform(2, 5), rng.uniform(-18, -10)
    strength, decay = 10 ** rng.uniform(2.3, 3.3), rng.uniform(0.3, 1.2) / 200
    spread_y, spread_z = 10 ** rng.uniform(-0.5, 0.3), 10 ** rng.uniform(-2, -1.2)
    direction = rng.normal(size=(150, 3)) / np.abs(rng.normal(size=(150, 1)))
    phase = rng.uniform(0, 2 * np.pi, 150)

    def waves(xyz):
        return np.cos(xyz / [30.0, 12.0, 2.5] @ direction.T + phase).sum(1) * np.sqrt(2 / 150)

    def field(xyz):
        x, y, z = xyz.T
        down = np.maximum(x, 0.5)
        sy, sz = 2 * np.sqrt(spread_y * down), 2 * np.sqrt(spread_z * down)
        across = erf((y + width / 2) / sy) - erf((y - width / 2) / sy)
        deep = z - depth
        up = erf((deep + height / 2) / sz) - erf((deep - height / 2) / sz)
        clean = strength * np.exp(-decay * down + np.minimum(x, 0) / 4) * across * up / 4
        return np.log10(clean + 0.02) + 0.35 * waves(xyz)

    spots = np.column_stack(
        [rng.uniform(-30, 210, holes + places), rng.uniform(-65, 65, holes + places)]
    )
    tops = -2.0 - 3.2 * np.arange(ZONES)
    lines, result, hole = [], [], []
    for number, (x, y) in enumerate(spots):
        for top in tops:
            z = top - LENGTH_M * np.linspace(0, 1, 7)
            inside = np.column_stack([np.full(7, x), np.full(7, y), z])
            mean = np.log10(np.mean(10.0 ** field(inside)))
            result.append(mean + NOISE * rng.normal())
            lines.append(inside[[0, -1]])
            hole.append(number)
    axes = np.arange(-30, 211, 8.0), np.arange(-65, 66, 6.5), np.arange(-28, 0, 1.6)
    cells = np.stack([a.ravel() for a in np.meshgrid(*axes)], axis=1)
    started = rng.choice(holes * ZONES, tested, replace=False)
    return CampaignSite(
        lines,
        np.array(result),
        np.array(hole),
        np.sort(started),
        cells,
        8 * 6.5 * 1.6,
        field(cells),
    )


def fitted(site, index, seed, mean):
    """The field from some zones, the direction of flow believed to 10 degrees."""
    return kriging.fit(
        site.data(index),
        prior=kriging.Prior(azimuth_deg=90.0, azimuth_sd_deg=10.0),
        mean=mean,
        rng=np.random.default_rng(seed),
    )


def misclassified(site, model):
    """Volume [m3] on the wrong side of the criterion: in truth, and as the model expects."""
    chance = model.exceedance(site.cells, CRITERION)
    wrong = (chance > 0.5) != (site.truth > CRITERION)
    return float(wrong.sum() * site.volume_m3), float(uncertain(chance).sum() * site.volume_m3)


def uncertain(chance):
    """Chance of standing on the wrong side."""
    return np.minimum(chance, 1.0 - chance)


def untested(site, index):
    """Zones that are still candidates."""
    return np.setdiff1d(np.arange(len(site.lines)), index)


def advised(site, model, index, count):
    """The best next tests among the least decided zones, and their expected gain [m3]."""
    rest = untested(site, index)
    middles = np.array([site.lines[i].mean(0) for i in rest])
    chance = model.exceedance(middles, CRITERION)
    rest = np.sort(rest[np.argsort(-uncertain(chance), kind="stable")[:CANDIDATES]])
    open_cells = uncertain(model.exceedance(site.cells, CRITERION)) > DECIDED
    batch = kriging.next_tests(
        model,
        kriging.Support.from_lines([site.lines[i] for i in rest]),
        site.cells[open_cells],
        CRITERION,
        volume=site.volume_m3,
        size=count,
    )
    return rest[batch.index], float(np.sum(batch.gain))


def least_known(site, model, index, count):
    """The untested zones of largest variance, each chosen test known to the next."""
    rest = untested(site, index)
    middles = np.array([site.lines[i].mean(0) for i in rest])
    widest = np.argsort(-model.predict(middles).sd, kind="stable")[:CANDIDATES]
    rest = np.sort(rest[widest])
    batch = kriging.next_tests(
        model,
        kriging.Support.from_lines([site.lines[i] for i in rest]),
        middles[widest],
        None,
        size=count,
    )
    return rest[batch.index]


def regular(site, index, count):
    """Zones added one by one where the nearest tested zone is farthest (depths count tenfold)."""
    middles = np.array([line.mean(0) for line in site.lines]) * [1.0, 1.0, 10.0]
    nearest = np.min([np.linalg.norm(middles - middles[i], axis=1) for i in index], axis=0)
    added = []
    for _ in range(count):
        best = int(np.argmax(nearest))
        added.append(best)
        nearest = np.minimum(nearest, np.linalg.norm(middles - middles[best], axis=1))
    return np.array(added)
