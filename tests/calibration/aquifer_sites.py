"""Plume sites made by physics: a patch source in a heterogeneous aquifer, sampled through holes.

Nothing here is a formula for a plume: heads, flow and transport are solved on the grid, so that
plumes split, detour and end in cliffs.
"""

import aquifer
import numpy as np
from aquifer import Grid
from plume_sites import CRITERION, NOISE, PlumeSite, reported, to_map, turned
from scipy.ndimage import gaussian_filter

# As large as the other sites of this folder, and with sources as large as theirs.
GRID = Grid((60, 40, 12), (5.0, 4.0, 2.0))
LENGTH_M, WIDTH_M, HEIGHT_M = (n * s for n, s in zip(GRID.shape, GRID.size, strict=True))
POROSITY, GRADIENT = 0.25, 0.01
BACKGROUND = 0.02  # [ug/L]


def correlated(rng, lengths):
    """A Gaussian random field on the grid, mean 0 and sd 1; `lengths` (3,) [m] of smoothing."""
    cells = [length / size for length, size in zip(lengths, GRID.size, strict=True)]
    waves = gaussian_filter(rng.normal(size=GRID.shape), cells, mode="wrap")
    return (waves - waves.mean()) / waves.std()


def lenses(rng):
    """Log-normal K: ln K of sd 1.2, in lenses some tens of metres long."""
    return 1.2 * correlated(rng, (18, 7, 1.2))


def layers(rng):
    """Layers of 2 to 5 cells, ln K of sd 1.3 between them and 0.5 within."""
    top = np.cumsum(rng.integers(2, 6, 12))
    number = np.searchsorted(top, np.arange(GRID.shape[2]), side="right")
    return 1.3 * rng.normal(size=12)[number] + 0.5 * correlated(rng, (18, 7, 1.2))


def channels(rng):
    """Winding channels of sand in a silty sand a tenth as permeable."""
    x, y, z = GRID.centres.T
    inside = np.zeros(len(x), dtype=bool)
    for _ in range(9):
        middle = rng.uniform(10, 150) + rng.uniform(5, 15) * np.sin(
            2 * np.pi * x / rng.uniform(120, 260) + rng.uniform(0, 6)
        )
        deep, width, height = rng.uniform(2, 22), rng.uniform(10, 20), rng.uniform(2, 4)
        inside |= ((y - middle) / width) ** 2 + ((z - deep) / height) ** 2 < 1
    ln_k = np.where(inside, 0.0, np.log(0.1)).reshape(GRID.shape)
    return ln_k + 0.4 * correlated(rng, (18, 7, 1.2))


def clay(rng):
    """Sand with patches of clay a hundredth as permeable, which flow goes round."""
    patches = correlated(rng, (20, 12, 1.0)) > 1.0
    return np.where(patches, np.log(0.01), 0.0) + 0.6 * correlated(rng, (18, 7, 1.2))


GEOLOGIES = {"lenses": lenses, "layers": layers, "channels": channels, "clay": clay}


def steady_plume(rng, ln_k):
    """K [m/s] and concentration relative to the source, both shape (cells,)."""
    k = 1e-4 * np.exp(ln_k.ravel())
    flows = aquifer.darcy(GRID, k, GRADIENT * LENGTH_M)
    x, y, z = GRID.centres.T
    middle, width, height = rng.uniform(60, 100), rng.uniform(15, 50), rng.uniform(2, 6)
    column = (np.abs(x - 42.5) < 0.6 * GRID.size[0]) & (np.abs(y - middle) < width / 2)
    depths = [column & (np.abs(z - deep) < height / 2) for deep in rng.uniform(6, 18, 5)]
    source = max(depths, key=lambda cells: k[cells].mean())  # where water moves
    pore = flows[1].sum() / (WIDTH_M * HEIGHT_M * POROSITY)
    decay = rng.uniform(0.2, 1.5) / 200 * pore
    # transverse: centimetres to decimetres, and millimetres to centimetres upwards, from memory
    spread = (2.0, 10 ** rng.uniform(-2, -1), 10 ** rng.uniform(-3, -2))
    return k, aquifer.transport(GRID, flows, source, decay=decay, porosity=POROSITY, spread=spread)


def cells_at(xyz):
    """Index of the cell that holds each place, shape (n, 3) [m]."""
    index = np.floor(xyz / GRID.size).astype(int)
    index = np.clip(index, 0, np.array(GRID.shape) - 1)
    return np.ravel_multi_index(index.T, GRID.shape)


def intervals(rng, holes):
    """Ends of the tested intervals, one hole in four inclined; and their hole's number."""
    lines, group = [], []
    for hole in range(holes):
        x, y = rng.uniform(0, LENGTH_M), rng.normal(WIDTH_M / 2, 35)
        top = np.array([x, y, HEIGHT_M])
        lean = np.radians(rng.uniform(20, 35)) if hole % 4 == 0 else 0.0
        turn = rng.uniform(0, 2 * np.pi)
        down = np.array([np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), -np.cos(lean)])
        for depth in np.sort(rng.uniform(0, 21 / np.cos(lean), int(rng.integers(5, 16)))):
            line = top + np.outer([depth, depth + rng.uniform(1, 2.5)], down)
            if (line[:, :2] > 0).all() and (line[:, :2] < [LENGTH_M, WIDTH_M]).all():
                lines.append(line)
                group.append(hole)
    return lines, np.array(group)


def aquifer_site(geology, seed):
    """A site of one geology: K-weighted means of intervals, two reporting limits, rough azimuth."""
    rng = np.random.default_rng([seed, list(GEOLOGIES).index(geology), 91])
    k, share = steady_plume(rng, GEOLOGIES[geology](rng))
    truth = 10 ** rng.uniform(2.5, 4) * share + BACKGROUND
    lines, group = intervals(rng, int(rng.integers(9, 41)))
    value = np.empty(len(lines))
    for number, line in enumerate(lines):
        inside = cells_at(line[0] + np.linspace(0, 1, 15)[:, None] * (line[1] - line[0]))
        value[number] = np.log10(k[inside] @ truth[inside] / k[inside].sum())
    value += NOISE * rng.normal(size=len(value))
    # two campaigns: a good laboratory, and one whose limit is half the criterion
    low, high = CRITERION + np.log10(rng.uniform(0.05, 0.2)), CRITERION + np.log10(0.5)
    limit = np.where(group % 3 == 0, high, low)
    azimuth = rng.uniform(0, 360)
    turn = turned(azimuth)
    data = reported([to_map(line, turn) for line in lines], value, limit, group)
    believed = azimuth + 10 * rng.normal()
    return PlumeSite(data, to_map(GRID.centres, turn), np.log10(truth), believed)
