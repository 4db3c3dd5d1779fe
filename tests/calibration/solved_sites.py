"""Hard sites made by solved flow and transport: six geologies, six histories, sparse boreholes.

No formula for a plume is in here. Even numbers are for choosing between ways to estimate; odd ones
are looked at only to report. Truths are kept in a folder of the machine, made anew where missing.
"""

import os
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import solved
from aquifer import Grid
from plume_sites import reported, to_map, turned
from scipy.ndimage import gaussian_filter

from geoprofile import kriging

GRID = Grid((56, 34, 14), (5.0, 5.0, 2.0))
LENGTH_M, WIDTH_M, HEIGHT_M = (n * s for n, s in zip(GRID.shape, GRID.size, strict=True))
CRITERION = 1.0  # [log10 ug/L]
BACKGROUND = 0.01  # [ug/L]
GEOLOGIES = ("lenses", "layers", "channels", "sheets", "contact", "fractures")
HISTORIES = ("steady", "two ages", "detached", "shrinking", "diving", "young")
# The two left out found no holes with 50 to 84 % non-detects.
SITES = tuple(number for number in range(96) if number not in (33, 36))
KEPT = Path(os.environ.get("SOLVED_SITES", Path(tempfile.gettempdir()) / "solved_sites"))
NEAR_M, FAR_M = 6.0, 20.0
MARGIN = 0.1  # [-] of the extent of the holes: what a map shows beyond them
FORM = 5  # raise it when the truths change


def waves(rng, lengths):
    """A Gaussian random field on the grid, mean 0 and sd 1; `lengths` (3,) [m] of smoothing."""
    cells = [length / size for length, size in zip(lengths, GRID.size, strict=True)]
    found = gaussian_filter(rng.normal(size=GRID.shape), cells, mode="wrap")
    return ((found - found.mean()) / found.std()).ravel()


def ground(geology, rng):
    """Horizontal K [m/s] and porosity [-] of the cells."""
    x, y, z = GRID.centres.T
    rough = waves(rng, (18, 8, 1.5))
    porosity = np.full(len(x), 0.25)
    if geology == "lenses":
        return 1e-4 * np.exp(1.4 * rough), porosity
    if geology == "layers":
        tops = np.cumsum(rng.integers(1, 5, 14))
        number = np.searchsorted(tops, np.arange(GRID.shape[2]), side="right")
        level = np.broadcast_to((1.5 * rng.normal(size=15))[number], GRID.shape).ravel()
        return 1e-4 * np.exp(level + 0.5 * rough), porosity
    if geology == "channels":
        inside = np.zeros(len(x), dtype=bool)
        for _ in range(int(rng.integers(7, 12))):
            wave, oscillation = rng.uniform(100, 240), rng.uniform(6, 22)
            middle = rng.uniform(10, WIDTH_M - 10) + oscillation * np.sin(
                2 * np.pi * x / wave + rng.uniform(0, 6)
            )
            deep, width, high = rng.uniform(3, HEIGHT_M - 3), rng.uniform(9, 18), rng.uniform(2, 4)
            inside |= ((y - middle) / width) ** 2 + ((z - deep) / high) ** 2 < 1
        k = np.where(inside, 3e-4, 3e-8) * np.exp(0.5 * rough)
        return k, np.where(inside, 0.25, 0.4)
    if geology == "sheets":
        level = 3e-6 * np.exp(0.5 * rough)
        for _ in range(int(rng.integers(2, 4))):
            bed = rng.uniform(5, HEIGHT_M - 4) + 2.0 * waves(rng, (60, 40, 50))
            level[np.abs(z - bed) < 1.0] = 5e-4
        return level, porosity
    if geology == "contact":
        top = HEIGHT_M * rng.uniform(0.35, 0.65) + rng.uniform(-0.04, 0.04) * (x - LENGTH_M / 2)
        top += 1.5 * waves(rng, (40, 25, 50))
        return np.where(z > top, 2e-4, 4e-6) * np.exp(0.8 * rough), porosity
    k = 2e-8 * np.exp(0.5 * rough)
    porosity[:] = 0.05
    for _ in range(int(rng.integers(3, 6))):
        dip, turn = np.tan(np.radians(rng.uniform(3, 25))), rng.uniform(0, 2 * np.pi)
        level = rng.uniform(0, HEIGHT_M) + dip * 0.5 * (
            (x - rng.uniform(0, LENGTH_M)) * np.cos(turn) + (y - WIDTH_M / 2) * np.sin(turn)
        )
        k[np.abs(z - level) < 1.0] = 1e-4 * np.exp(rng.normal())
    upright = rng.uniform(0, WIDTH_M) + np.tan(np.radians(rng.uniform(-20, 20))) * x
    k[np.abs(y - upright) < 3.0] = 5e-5
    return k, porosity


def patch(rng, k, x0, floor_m=3.0):
    """Cells of a source where water moves, about `x0` [m] along the ground, above `floor_m`."""
    x, y, z = GRID.centres.T
    width, height = rng.uniform(10, 40), rng.uniform(2, 6)
    found = []
    for _ in range(24):
        start, middle = x0 + rng.uniform(-15, 15), WIDTH_M / 2 + rng.uniform(-25, 25)
        deep = rng.uniform(floor_m, HEIGHT_M - 3)
        near = (np.abs(x - start) < 0.6 * GRID.size[0]) & (np.abs(y - middle) < width / 2)
        cells = near & (np.abs(z - deep) < height / 2)
        found.append((np.median(k[cells]) if cells.any() else 0.0, len(found), cells))
    return max(found)[2]


def geology_of(number):
    """Each geology has an even and an odd site in every dozen."""
    return GEOLOGIES[number % 12 // 2]


def story_of(number):
    """Histories rotate, so that every geology meets most of them."""
    return HISTORIES[(number % 12 // 2 + number // 12 + number % 2 * 3) % 6]


def truth(number):
    """K, heads, and relative concentrations at two times, of one site."""
    for attempt in range(8):
        made = _truth(number, np.random.default_rng([number, attempt, 4407]))
        # Where the source lies in clay by chance there is no plume to find.
        if np.mean(made["share"] > 0.003 * made["share"].max(), axis=1).min() > 0.012:
            return made
    raise ValueError(f"no plume at site {number}")


def _truth(number, rng):
    geology, story = geology_of(number), story_of(number)
    k, porosity = ground(geology, rng)
    gradient = rng.uniform(0.004, 0.01)
    along = k.mean() * gradient
    recharge = 0.06 * along if story == "diving" else 0.0
    found = solved.flow(GRID, k, gradient * LENGTH_M, recharge=recharge)
    fast = porosity[k > 0.3 * k.mean()].mean()
    once = LENGTH_M * fast / along  # [s] one way through, if all ground were alike
    x0 = rng.uniform(30, 45)
    source = patch(rng, k, x0, 0.6 * HEIGHT_M if story == "diving" else 3.0)
    last = once * rng.uniform(0.6, 1.6)
    never = 9 * last
    second = patch(rng, k, x0 + rng.uniform(30, 90)), 10 ** rng.uniform(-1, 0), 0.6 * last, never
    sources = {
        "steady": [(source, 1.0, 0.0, never)],
        "diving": [(source, 1.0, 0.0, never)],
        "young": [(source, 1.0, 0.5 * last, never)],
        "two ages": [(source, 1.0, 0.0, never), second],
        "detached": [(source, 1.0, 0.0, 0.5 * last)],
        "shrinking": [(source, 1.0, 0.0, 0.6 * last)],
    }[story]
    decay = rng.uniform(0.0, 2.0) / once
    spread = (2.0, 10 ** rng.uniform(-2, -0.7), 10 ** rng.uniform(-3, -2))
    times = [0.7 * last, last]
    share = solved.history(
        GRID, found, sources, times, steps=30, decay=decay, porosity=porosity, spread=spread
    )
    return {"k": k, "head": found.head, "share": share}


def kept(number):
    """The truth of a site, from the folder or made."""
    path = KEPT / f"{FORM}_{number}.npz"
    if not path.exists():
        KEPT.mkdir(parents=True, exist_ok=True)
        made = {name: values.astype(np.float32) for name, values in truth(number).items()}
        part = path.with_suffix(f".{os.getpid()}.npz")
        np.savez_compressed(part, **made)
        part.replace(path)
    with np.load(path) as stored:
        return {name: stored[name].astype(float) for name in stored.files}


@dataclass(frozen=True)
class SolvedSite:
    """A site to be judged: what was measured, and the truth where it counts.

    `cells` (n, 3) [m] is a random half of the ground round the holes, `cell_m3` what each stands
    for, `truth` (n,) and `before` (n,) [log10 ug/L] now and a round ago, `gap_m` (n,) the distance
    from the nearest tested interval. Lines and holes are along, across, up; `turn` maps them.
    """

    number: int
    geology: str
    story: str
    data: kriging.Data
    earlier: kriging.Data
    azimuth_deg: float
    cells: np.ndarray
    cell_m3: float
    truth: np.ndarray
    before: np.ndarray
    gap_m: np.ndarray
    limit: float
    turn: np.ndarray
    spots: np.ndarray
    fields: dict = field(repr=False)

    @property
    def prior(self):
        """The direction of flow, as heads in the holes have it."""
        return kriging.Prior(azimuth_deg=self.azimuth_deg, azimuth_sd_deg=15.0)

    def result(self, line, rng, name="now"):
        """What a test of an interval (along, across, up) would find [log10 ug/L]."""
        return found_by(line, self.fields, rng, name)


def found_by(line, fields, rng, name="now"):
    """What a test of an interval finds, K-weighted and with noise [log10 ug/L]."""
    inside = cells_at(line[0] + np.linspace(0, 1, 15)[:, None] * (line[1] - line[0]))
    k, found = fields["k"][inside], 10.0 ** fields[name][inside]
    return float(np.log10(k @ found / k.sum()) + 0.06 * rng.normal())


def cells_at(uvw):
    """Index of the cell that holds each place."""
    index = np.floor(uvw / GRID.size).astype(int)
    index = np.clip(index, 0, np.array(GRID.shape) - 1)
    return np.ravel_multi_index(index.T, GRID.shape)


def spots_of(rng, holes, reach):
    """Where holes stand: fences that stop short, a scatter, or a crowd at the source."""
    kind = rng.choice(["fences", "scatter", "crowd"], p=[0.5, 0.3, 0.2])
    if kind == "fences":
        lines = max(2, round(holes / rng.uniform(3, 5)))
        stations = np.linspace(rng.uniform(20, 45), reach, lines)
        along = np.resize(stations, holes) + rng.normal(0, 4, holes)
        across = WIDTH_M / 2 + rng.uniform(-1, 1, holes) * rng.uniform(30, 60)
    elif kind == "scatter":
        along = rng.uniform(15, reach + 15, holes)
        across = rng.normal(WIDTH_M / 2, 32, holes)
    else:
        along = 25 + rng.gamma(1.5, reach / 4, holes)
        across = rng.normal(WIDTH_M / 2, 25, holes)
    edge = [[6, 6], [LENGTH_M - 6, WIDTH_M - 6]]
    return np.clip(np.column_stack([along, across]), *edge)


def zones(rng, spots):
    """Tested intervals of every hole, upright, and the number of its hole."""
    lines, group = [], []
    for hole, spot in enumerate(spots):
        count, deepest = int(rng.integers(4, 11)), rng.uniform(1, 8)
        tops = np.linspace(HEIGHT_M - 2, deepest + 3, count) + rng.uniform(-0.7, 0.7, count)
        for top in tops:
            low = max(top - rng.uniform(1, 3), 0.2)
            lines.append(np.array([[*spot, min(top, HEIGHT_M - 0.2)], [*spot, low]]))
            group.append(hole)
    return lines, np.array(group)


def heading(rng, head, lines, group):
    """Direction of flow from heads in the holes, a plane through one interval of each [degrees]."""
    first = [int(np.flatnonzero(group == hole).mean()) for hole in np.unique(group)]
    middles = np.array([lines[i].mean(0) for i in first])
    levels = head[cells_at(middles)] + 0.005 * rng.normal(size=len(first))
    basis = np.column_stack([np.ones(len(first)), middles[:, :2]])
    slope = np.linalg.lstsq(basis, levels, rcond=None)[0][1:]
    return float(np.degrees(np.arctan2(-slope[1], -slope[0])))  # from along, towards across


def site(number):
    """One site, always the same: 4 to 24 holes, 50 to 84 % non-detects."""
    from scipy.spatial import Delaunay, cKDTree

    stored = kept(number)
    rng = np.random.default_rng([number, 8112])
    share = stored["share"]
    story = story_of(number)
    for _ in range(600):
        # The criterion is set so that a few percent of the ground lie above it; where a plume
        # shrinks, so many did before.
        ranked = np.quantile(share[0 if story == "shrinking" else 1], 1 - rng.uniform(0.015, 0.08))
        strength = 10**CRITERION / max(ranked, 1e-4 * share[1].max())
        now, before = (np.log10(strength * s + BACKGROUND) for s in (share[1], share[0]))
        fields = {"k": stored["k"], "now": now, "before": before, "head": stored["head"]}
        above = GRID.centres[now > CRITERION]
        if len(above) < 100:
            continue
        holes = int(np.rint(np.exp(rng.uniform(np.log(4), np.log(24.5)))))
        front = np.quantile(above[:, 0], 0.98)
        spots = spots_of(rng, holes, max(front * rng.uniform(0.6, 1.1), 70.0))
        lines, group = zones(rng, spots)
        limit = CRITERION + np.log10(10 ** rng.uniform(-1.5, -0.3))
        value = np.array([found_by(line, fields, rng) for line in lines])
        past = np.array([found_by(line, fields, rng, "before") for line in lines])
        hidden, hits = np.mean(value < limit), np.sum(value > CRITERION)
        if 0.5 <= hidden <= 0.84 and hits >= 2 and np.sum(value >= limit) >= 4:
            break
    else:
        raise ValueError(f"no holes fit site {number}")
    azimuth = rng.uniform(0, 360)
    turn = turned(azimuth)
    mapped = [to_map(line, turn) for line in lines]
    data = reported(mapped, value, np.full(len(value), limit), group)
    past = reported(mapped, past, np.full(len(value), limit), group)
    believed = azimuth + heading(rng, stored["head"], lines, group)
    hull = Delaunay(around(spots))
    centres = GRID.centres
    inside = hull.find_simplex(centres[:, :2]) >= 0
    inside &= centres[:, 2] > bottoms(spots, lines, group, centres[:, :2])
    rows = np.flatnonzero(inside)
    rows = np.sort(rng.choice(rows, min(len(rows), 4000), replace=False))
    along = np.vstack([line[0] + np.linspace(0, 1, 5)[:, None] * (line[1] - line[0])
                       for line in lines])  # fmt: skip
    gap, _ = cKDTree(along).query(centres[rows])
    return SolvedSite(
        number,
        geology_of(number),
        story,
        data,
        past,
        believed % 360,
        to_map(centres[rows], turn),
        float(np.prod(GRID.size) * inside.sum() / len(rows)),
        now[rows],
        before[rows],
        gap,
        limit,
        turn,
        spots,
        fields,
    )


def around(spots):
    """Points round every hole as far out as maps go [m]."""
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    reach = max(MARGIN * np.hypot(*np.ptp(spots, axis=0)), 10.0)
    ring = reach * np.column_stack([np.cos(turn), np.sin(turn)])
    return (spots[:, None] + ring).reshape(-1, 2)


def bottoms(spots, lines, group, xy):
    """How deep the holes reach near places, by inverse squared distance [m]."""
    deepest = np.full(len(spots), np.inf)
    np.minimum.at(deepest, group, [line[:, 2].min() for line in lines])
    weight = 1 / (((xy[:, None] - spots) ** 2).sum(2) + 1.0)
    return weight @ deepest / weight.sum(1)
