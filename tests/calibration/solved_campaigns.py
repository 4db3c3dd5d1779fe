"""Campaigns on the solved sites: the programme of field work against what a practitioner would do.

    python tests/calibration/solved_campaigns.py choose|report FILE [NUMBER ...]

Every way starts from the same ten tests of a site, works in rounds whose tests are all chosen
before their results, and pays the same prices. Lines of JSON go to FILE: cost, tests, the volume
misclassified in truth and as forecast, after each round.
"""

import json
import sys
import time
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
import solved_sites
from plume_sites import from_map, reported, to_map
from scipy.spatial import cKDTree
from solved_sites import CRITERION, HEIGHT_M, LENGTH_M, WIDTH_M

from geoprofile import kriging
from geoprofile.kriging.design.gaps import beside_a_result_above, gaps, nearest_zone
from geoprofile.kriging.design.programme import Limits, Work, in_order, question
from geoprofile.kriging.predict.doubt import is_worth_telling

# Two to four sites of each geology, with tests enough; even ones to choose by, odd ones to report.
CHOOSE = (
    2, 4, 12, 22, 30, 44, 14, 28, 24, 34, 18, 20,
    48, 74, 52, 54, 80, 58, 84, 86, 76, 90, 92, 94,
)  # fmt: skip
REPORT = (3, 5, 13, 23, 31, 45, 25, 63, 53, 43, 57, 83)
START, EACH_ROUND, MOST = 10, 6, 30
BUDGET = 20_000.0
RIG, METRE, SET_UP, TEST = 3000.0, 150.0, 300.0, 400.0  # as the layer has them
ZONE_M, STEP_M, APART_M = 2.0, 1.0, 4.0
PLACES, UNDECIDED, CANDIDATES, CELLS = 20, 0.05, 120, 1500
STEP_OUT_M = 30.0
WAYS = ("programme", "halve the gap", "step out", "infill", "random")


@dataclass
class Campaign:
    """What one way has done so far: tests with their hole and value, and what was paid."""

    site: object
    rng: np.random.Generator
    spots: list
    lines: list
    hole: list
    value: list
    cost: float = 0.0
    made: int = 0
    has_rig: bool = False
    visited: set = field(default_factory=set)

    @property
    def data(self):
        """What the laboratory has reported."""
        value = np.array(self.value)
        mapped = [to_map(line, self.site.turn) for line in self.lines]
        return reported(mapped, value, np.full(len(value), self.site.limit), np.array(self.hole))

    def test(self, hole, line):
        """Test a zone of a hole, and pay for it."""
        if hole not in self.visited:
            self.visited.add(hole)
            self.cost += SET_UP
        self.cost += TEST
        self.made += 1
        self.lines.append(line)
        self.hole.append(hole)
        self.value.append(self.site.result(line, self.rng))

    def drill(self, spot):
        """A new borehole down to the base, with the rig if it is not there yet."""
        self.cost += HEIGHT_M * METRE + (0.0 if self.has_rig else RIG)
        self.has_rig = True
        self.spots.append(np.asarray(spot))
        return len(self.spots) - 1

    def pays(self, more):
        """Whether that much is left."""
        return self.cost + more <= BUDGET


def upright(spot, top, length=ZONE_M):
    """A zone of a vertical hole."""
    return np.array([[*spot, top], [*spot, top - length]])


def hole_zones(spot, apart=APART_M):
    """Zones of a new borehole."""
    return [upright(spot, top) for top in np.arange(HEIGHT_M - 2, ZONE_M, -apart)]


def begun(site, way):
    """The same start for every way: ten of the site's tests in four holes or more."""
    back = [from_map(line[[0, -1]], site.turn) for line in site.data.support.lines]
    group = np.asarray(site.data.group)
    rng = np.random.default_rng([site.number, 51])
    value = np.where(site.data.censored, site.limit - 1.0, np.nan_to_num(site.data.value))
    for _ in range(3000):
        some = np.sort(rng.choice(len(group), START, replace=False))
        hits = ~site.data.censored[some]
        above = value[some] > CRITERION
        if (
            hits.sum() >= 4
            and len(set(group[some])) >= 4
            and len(set(group[some][hits])) >= 2
            and above.sum() >= 2
        ):
            break
    else:
        return None
    chance = np.random.default_rng([site.number, 52, WAYS.index(way)])
    return Campaign(
        site,
        chance,
        list(site.spots),
        [back[k] for k in some],
        [int(group[k]) for k in some],
        [float(value[k]) for k in some],
    )


def free_zones(one, bottoms):
    """Zones of existing holes that overlap no tested one by more than a quarter."""
    holes, lines = [], []
    for hole, spot in enumerate(one.spots):
        known = [line for line, h in zip(one.lines, one.hole, strict=True) if h == hole]
        for top in np.arange(HEIGHT_M - 1, bottoms[hole] + ZONE_M - 1e-9, -STEP_M):
            line = upright(spot, top)
            if all(overlap(line, other) <= 0.25 * ZONE_M for other in known):
                holes.append(hole)
                lines.append(line)
    return np.array(holes, dtype=int), lines


def overlap(one, other):
    """Common length of two zones of a hole [m]."""
    return min(one[0, 2], other[0, 2]) - max(one[1, 2], other[1, 2])


def bottoms_of(one):
    """How deep each hole goes: the site's deepest zone, or the base."""
    deepest = np.full(len(one.spots), 0.5)
    site_lines = [from_map(line[[0, -1]], one.site.turn) for line in one.site.data.support.lines]
    for hole in range(len(one.site.spots)):
        mine = [
            ln[:, 2].min()
            for ln, g in zip(site_lines, one.site.data.group, strict=True)
            if g == hole
        ]
        deepest[hole] = min(mine)
    return deepest


def by_programme(one, model):
    """The first steps of the programme for what is left; returns its forecast [m3]."""
    holes, lines = free_zones(one, bottoms_of(one))
    middles = to_map(np.array([ln.mean(0) for ln in lines]), one.site.turn)
    chance = model.exceedance(middles, CRITERION, doubted=False)
    open_ = np.minimum(chance, 1 - chance)
    some = np.flatnonzero(open_ > UNDECIDED)
    sure = sure_zones(one, holes, lines) if is_worth_telling(model.doubt) else []
    some = np.union1d(some[np.argsort(-open_[some], kind="stable")[:CANDIDATES]], sure)
    some = some.astype(int)
    place = {row: len(sure) - k for k, row in enumerate(sure)}
    pieces = [((int(holes[k]), None), [lines[k]]) for k in some]
    first = [place.get(int(k), 0) for k in some]
    pieces += [((None, spot), hole_zones(spot)) for spot in places(one, model)]
    first += [0] * (len(pieces) - len(first))
    if not pieces:
        return 0.0
    works, row, once = [], 0, {"rig": (0.0 if one.has_rig else RIG, 1.0)}
    for number, ((hole, _), zones) in enumerate(pieces):
        money, needs = len(zones) * TEST, "rig"
        if hole is None:
            money += SET_UP + HEIGHT_M * METRE
        else:
            needs = f"hole {hole}"
            once[needs] = (0.0 if hole in one.visited else SET_UP, 0.25)
        bars = tuple(
            k for k in range(len(pieces)) if k != number and bar(pieces[number], pieces[k])
        )
        rows = tuple(range(row, row + len(zones)))
        works.append(Work(rows, money, 0.1, (needs,), bars, first[number]))
        row += len(zones)
    rng = np.random.default_rng(3)
    cells = np.sort(rng.choice(len(one.site.cells), min(CELLS, len(one.site.cells)), replace=False))
    size = one.site.cell_m3 * len(one.site.cells) / len(cells)
    support = kriging.Support.from_lines([to_map(z, one.site.turn) for _, zs in pieces for z in zs])
    asked = question(
        model, support, one.site.cells[cells], CRITERION, volume=np.full(len(cells), size)
    )
    forecast, tests = 0.0, 0
    for step in in_order([asked], works, Limits(BUDGET - one.cost, np.inf, once)):
        if isinstance(step, str):
            break
        (hole, spot), zones = pieces[step.work]
        if tests and tests + len(zones) > EACH_ROUND + 1:
            break
        number = one.drill(spot) if hole is None else hole
        for zone in zones:
            one.test(number, zone)
        tests += len(zones)
        forecast += sum(step.gains)
        if tests >= EACH_ROUND:
            break
    return forecast


def sure_zones(one, holes, lines):
    """Rows of free zones that need no model, as the layer has them: the surest first."""
    depths = np.array([[HEIGHT_M - ln[0, 2], HEIGHT_M - ln[1, 2]] for ln in lines])
    bottoms = HEIGHT_M - bottoms_of(one)
    results = list(zip(one.hole, one.lines, [v > CRITERION for v in one.value], strict=True))
    found = []
    for hole in range(len(one.spots)):
        mine = np.flatnonzero(holes == hole)
        known = [(HEIGHT_M - ln[0, 2], HEIGHT_M - ln[1, 2], a) for h, ln, a in results if h == hole]
        for top, bottom in gaps(known, (0.5, bottoms[hole])):
            zone = nearest_zone(depths[mine], (top + bottom) / 2, (top, bottom))
            if zone is not None:
                found.append((top - bottom, int(mine[zone])))
    sure = [row for _, row in sorted(found)]
    empty = [h for h in range(len(one.spots)) if h not in one.hole]
    hot = np.array([ln.mean(0) for _, ln, a in results if a]).reshape(-1, 3)
    spots = np.array([one.spots[h] for h in empty]).reshape(-1, 2)
    for number, nearest in beside_a_result_above(spots, hot[:, :2]):
        mine = np.flatnonzero(holes == empty[number])
        if len(mine):
            zone = nearest_zone(depths[mine], HEIGHT_M - hot[nearest, 2], (0.0, HEIGHT_M))
            sure.append(int(mine[zone]))
    return sure


def bar(one, other):
    """Whether two pieces test the same ground."""
    ((hole, spot), zones), ((hole_2, spot_2), zones_2) = one, other
    if hole is None or hole_2 is None:
        return hole is None and hole_2 is None and np.linalg.norm(spot - spot_2) < 10
    return hole == hole_2 and overlap(zones[0], zones_2[0]) > 0.25 * ZONE_M


def places(one, model):
    """Where a new hole would cross most that is undecided, ten metres apart from others."""
    spots = np.array(one.spots)
    low, high = spots.min(0) - 15, spots.max(0) + 15
    axes = [np.arange(a, b, 12.0) for a, b in zip(low, high, strict=True)]
    grid = np.stack([a.ravel() for a in np.meshgrid(*axes)], axis=1)
    grid = grid[((grid > 5) & (grid < [LENGTH_M - 5, WIDTH_M - 5])).all(1)]
    grid = grid[cKDTree(spots).query(grid)[0] > 8]
    middles = np.array([[zone.mean(0) for zone in hole_zones(spot)] for spot in grid])
    shape = middles.shape[:2]
    there = to_map(middles.reshape(-1, 3), one.site.turn)
    chance = model.exceedance(there, CRITERION, doubted=False).reshape(shape)
    worth = np.minimum(chance, 1 - chance).sum(1)
    kept = []
    for k in np.argsort(-worth, kind="stable"):
        if len(kept) < PLACES and worth[k] > UNDECIDED:
            kept.append(grid[k])
    return kept


def halving(one, _model):
    """Zones in the middle of gaps between a result above the criterion and one below, or an end."""
    bottoms = bottoms_of(one)
    found = []
    for hole, spot in enumerate(one.spots):
        known = zip(one.lines, one.hole, one.value, strict=True)
        mine = [(ln[0, 2], ln[1, 2], v > CRITERION) for ln, h, v in known if h == hole]
        mine.sort(reverse=True)
        ends = [(HEIGHT_M, HEIGHT_M - 0.5, False), *mine, (bottoms[hole], bottoms[hole], False)]
        for (_, upper, above), (lower, _, next_above) in pairwise(ends):
            if mine and above != next_above and upper - lower > ZONE_M:
                found.append((upper - lower, hole, upright(spot, (upper + lower + ZONE_M) / 2)))
    found.sort(key=lambda one_gap: -one_gap[0])
    for _, hole, zone in found[:EACH_ROUND]:
        one.test(hole, zone)
    left = EACH_ROUND - len(found[:EACH_ROUND])
    if left:
        next_to_the_worst(one, left)


def next_to_the_worst(one, count):
    """Untested holes nearest to a result above the criterion, at its depth; else infill."""
    bottoms = bottoms_of(one)
    hot = [(ln.mean(0)) for ln, v in zip(one.lines, one.value, strict=True) if v > CRITERION]
    empty = [h for h in range(len(one.spots)) if h not in one.hole]
    pairs = sorted(
        (float(np.linalg.norm(spot[:2] - one.spots[h])), h, float(spot[2]))
        for h in empty
        for spot in hot
    )
    done = set()
    for _, hole, level in pairs:
        if hole not in done and len(done) < count:
            done.add(hole)
            top = np.clip(level + ZONE_M / 2, bottoms[hole] + ZONE_M, HEIGHT_M - 1)
            one.test(hole, upright(one.spots[hole], top))
    infill(one, None, count - len(done))


def infill(one, _model, count=EACH_ROUND):
    """Zones where the nearest tested one is farthest, depths counting tenfold."""
    scale = np.array([1.0, 1.0, 10.0])
    for _ in range(count):
        holes, lines = free_zones(one, bottoms_of(one))
        tested = np.array([ln.mean(0) for ln in one.lines]) * scale
        away, _ = cKDTree(tested).query(np.array([ln.mean(0) for ln in lines]) * scale)
        best = int(np.argmax(away))
        one.test(int(holes[best]), lines[best])


def at_random(one, _model):
    """Any zones of existing holes."""
    for _ in range(EACH_ROUND):
        holes, lines = free_zones(one, bottoms_of(one))
        k = int(one.rng.integers(len(lines)))
        one.test(int(holes[k]), lines[k])


def stepping(one, model):
    """A hole downgradient of the farthest one that is fouled, until it is clean; then aside."""
    fouled = sorted(
        {h for h, v in zip(one.hole, one.value, strict=True) if v > CRITERION},
        key=lambda h: one.spots[h][0],
    )
    taken = np.array(one.spots)
    for hole in reversed(fouled):
        for way in ([1, 0], [0, 1], [0, -1]):
            spot = one.spots[hole] + STEP_OUT_M * np.array(way)
            inside = 5 < spot[0] < LENGTH_M - 5 and 5 < spot[1] < WIDTH_M - 5
            clear = np.linalg.norm(taken - spot, axis=1).min() > STEP_OUT_M / 2
            price = HEIGHT_M * METRE + SET_UP + EACH_ROUND * TEST + (0 if one.has_rig else RIG)
            if inside and clear and one.pays(price):
                new = one.drill(spot)
                for zone in hole_zones(spot)[: EACH_ROUND + 1]:
                    one.test(new, zone)
                return
    halving(one, model)


CHOOSERS = {"programme": by_programme, "halve the gap": halving, "step out": stepping,
            "infill": infill, "random": at_random}  # fmt: skip


def look(one):
    """The field so far, what it gets wrong in truth and what it expects to get wrong [m3]."""
    rng = np.random.default_rng(one.site.number)
    model = kriging.fit(one.data, prior=one.site.prior, mean="stack", rng=rng)
    chance = model.exceedance(one.site.cells, CRITERION)
    wrong = (chance > 0.5) != (one.site.truth > CRITERION)
    expected = np.minimum(chance, 1 - chance)
    return model, float(wrong.sum() * one.site.cell_m3), float(expected.sum() * one.site.cell_m3)


def run(site, way):
    """A campaign, round by round."""
    one = begun(site, way)
    if one is None:
        return []
    rows, forecast = [], 0.0
    model, wrong, expected = look(one)
    while True:
        rows.append({
            "number": site.number, "geology": site.geology, "way": way, "tests": one.made,
            "cost": one.cost, "wrong_m3": wrong, "expected_m3": expected, "forecast_m3": forecast,
            "plume_m3": float((site.truth > CRITERION).sum() * site.cell_m3),
        })  # fmt: skip
        if one.made >= MOST or not one.pays(TEST * EACH_ROUND + SET_UP):
            return rows
        one.visited = set()
        made = one.made
        forecast = CHOOSERS[way](one, model) or 0.0
        if one.made == made:
            return rows
        model, wrong, expected = look(one)


def main(which, path, *numbers):
    """Every way on every site, written as it goes: the best rival right after the programme."""
    sites = tuple(map(int, numbers)) or (CHOOSE if which == "choose" else REPORT)
    with Path(path).open("a") as file:
        for way in WAYS:
            for number in sites:
                begin = time.process_time()
                for row in run(solved_sites.site(number), way):
                    file.write(json.dumps(row) + "\n")
                file.flush()
                print(number, way, round(time.process_time() - begin, 1), "s", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
