"""A criterion above every result, on the solved sites: what the map says, and what is true.

    python tests/calibration/solved_beyond.py choose|report|all [NUMBER ...]

The criterion is put at the highest result of a site, at twice and at four times it: no test shows
a plume, and there may be one. Whole columns of ground are judged, as for the chance at any depth.
"""

import sys
from itertools import pairwise

import numpy as np
from plume_sites import from_map, to_map
from solved_scores import fitted, sites_of
from solved_sites import GRID

TIMES = (1.0, 2.0, 4.0)
APART = 2  # every so manieth column along and across
REALISATIONS = 200
CLASSES = (0.0, 0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 1.01)


def columns_of(site):
    """Cells of whole columns within the mapped ground: flat index, and number of the column."""
    place = np.floor(from_map(site.cells, site.turn) / GRID.size).astype(int)
    found, number = np.unique(place[:, :2], axis=0, return_inverse=True)
    number = number.ravel()
    low, high = np.full(len(found), GRID.shape[2]), np.zeros(len(found), dtype=int)
    np.minimum.at(low, number, place[:, 2])
    np.maximum.at(high, number, place[:, 2])
    some = np.flatnonzero((found % APART == 0).all(axis=1))
    cells = [[*found[k], z] for k in some for z in range(low[k], high[k] + 1)]
    column = np.repeat(np.arange(len(some)), high[some] - low[some] + 1)
    return np.ravel_multi_index(np.array(cells).T, GRID.shape), column


def any_depth(column, hits):
    """Whether any cell of each column is hit, shape (k, n) to (k, columns)."""
    return np.logical_or.reduceat(hits, np.flatnonzero(np.diff(column, prepend=-1)), axis=1)


def judged(site, model):
    """For each criterion: chance and truth of every cell, and of every column."""
    cells, column = columns_of(site)
    xyz, truth = to_map(GRID.centres[cells], site.turn), site.fields["now"][cells]
    seen = ~site.data.censored
    highest = float(np.asarray(site.data.value)[seen].max())
    drawn = model.simulate(xyz, realisations=REALISATIONS, rng=np.random.default_rng(5))
    out = {}
    for times in TIMES:
        level = highest + np.log10(times)
        hits = any_depth(column, drawn > level).sum(0)
        share = (hits + 0.5) / (REALISATIONS + 1)  # as the map has it
        real = truth > level
        out[times] = (
            model.exceedance(xyz, level),
            real,
            share,
            any_depth(column, real[None])[0],
        )
    return out


def told(found):
    """Print what was said and what was true over all sites."""
    for times in TIMES:
        chance, real, share, below = (
            np.concatenate([one[times][k] for one in found]) for k in range(4)
        )
        called = share > 0.5
        print(f"criterion {times:g} times the highest result of {len(found)} sites")
        print(f"  volume said over true {chance.sum() / max(real.sum(), 1):.2f}")
        print(f"  area said over true, any depth {share.sum() / max(below.sum(), 1):.2f}")
        right = f"{below[called].mean():.2f}" if called.any() else "-"
        print(f"  likelier than not over {called.mean():.3f} of the map, true in {right} of it")
        for low, high in pairwise(CLASSES):
            rows = (share >= low) & (share < high)
            if rows.any():
                print(
                    f"  said {share[rows].mean():.2f} true {below[rows].mean():.2f} n {rows.sum()}"
                )


def main(which, *numbers):
    """Judge every site."""
    told([judged(site, fitted(site)) for site in sites_of(which, numbers)])


if __name__ == "__main__":
    main(*sys.argv[1:])
