"""Flow with recharge and transport in time through any K field: what the hard sites are made by.

Finite volumes on the grid of `aquifer`, SI units. It shares no line with the estimation engine.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from aquifer import _bernoulli, speeds
from scipy.sparse import coo_matrix, csr_matrix, diags
from scipy.sparse.linalg import LinearOperator, bicgstab, spilu, splu

HELD = 1e8  # [-] how much stiffer a held concentration is than a cell's own balance


@dataclass(frozen=True)
class Flow:
    """Heads of the cells [m], flow through inner faces by axis, and through both ends [m3/s]."""

    head: np.ndarray
    through: list
    inflow: np.ndarray
    outflow: np.ndarray


def flow(grid, k, drop, *, flattened=0.2, recharge=0.0):
    """Steady flow: head `drop` [m] from first to last face, `recharge` [m/s] through the top."""
    count, links = len(k), []
    for axis in range(3):
        i, j, shape = grid.faces(axis)
        link = shape * 2 * k[i] * k[j] / (k[i] + k[j]) * (flattened if axis == 2 else 1.0)
        links.append((i, j, link))
    i, j, link = (np.concatenate(column) for column in zip(*links, strict=True))
    both = np.concatenate([i, j]), np.concatenate([j, i])
    off = coo_matrix((np.concatenate([link, link]), both), (count, count)).tocsr()
    first, last = grid.ends()
    edge = 2 * grid.size[1] * grid.size[2] / grid.size[0]
    fixed, right = np.zeros(count), np.zeros(count)
    fixed[first] += edge * k[first]
    fixed[last] += edge * k[last]
    right[first] = edge * k[first] * drop
    top = np.arange(count).reshape(grid.shape)[:, :, -1].ravel()
    right[top] += recharge * grid.size[0] * grid.size[1]
    diagonal = np.asarray(off.sum(1)).ravel() + fixed
    # Symmetric and positive: a direct solve is as quick as any where K spans four decades.
    matrix = (diags(diagonal) - off).tocsc()
    symmetric = {"SymmetricMode": True}
    head = splu(matrix, permc_spec="MMD_AT_PLUS_A", options=symmetric).solve(right)
    through = [link * (head[i] - head[j]) for i, j, link in links]
    return Flow(head, through, edge * k[first] * (drop - head[first]), edge * k[last] * head[last])


def carriage(grid, found, *, decay, porosity, spread):
    """What leaves every cell by flow, spreading and decay, per concentration: a matrix [m3/s].

    Water enters clean; `porosity` [-] is a number or one per cell.
    """
    velocity = speeds(grid, found.through, found.inflow, found.outflow)
    size = np.linalg.norm(velocity, axis=1) + 1e-30
    along, across, up = spread
    count, volume = len(size), np.prod(grid.size)
    porous = np.broadcast_to(porosity, count)
    rows, columns, entries = [], [], []
    for axis, through in enumerate(found.through):
        i, j, shape = grid.faces(axis)
        pace = 0.5 * (size[i] + size[j])
        here = np.abs(through) / (volume / grid.size[axis])
        wide = up if axis == 2 else across
        pores = 2 * porous[i] * porous[j] / (porous[i] + porous[j])
        link = shape * (wide * pace + (along - wide) * here**2 / pace + pores * 1e-10)
        leaving = link * _bernoulli(-through / link)
        entering = link * _bernoulli(through / link)
        rows += [i, i, j, j]
        columns += [i, j, j, i]
        entries += [leaving, -entering, entering, -leaving]
    _, last = grid.ends()
    rows += [last, np.arange(count)]
    columns += [last, np.arange(count)]
    entries += [found.outflow, decay * porous * volume]
    rows, columns, entries = (np.concatenate(a) for a in (rows, columns, entries))
    return csr_matrix(coo_matrix((entries, (rows, columns)), (count, count)))


def history(grid, found, sources, times, *, steps, decay, porosity, spread):
    """Concentrations at `times` [s], one row each; implicit steps from clean ground.

    `sources` are (cells, strength [-], begins [s], ends [s]): held at that while they last.
    """
    matrix = carriage(grid, found, decay=decay, porosity=porosity, spread=spread)
    count = matrix.shape[0]
    holds = np.broadcast_to(porosity, count) * np.prod(grid.size)
    breaks = sorted({0.0, *times, *(t for s in sources for t in s[2:] if t < times[-1])})
    now, out = np.zeros(count), []
    for begin, end in pairwise(breaks):
        number = max(3, round(steps * (end - begin) / times[-1]))
        step = (end - begin) / number
        held, strength = np.zeros(count), np.zeros(count)
        for cells, value, starts, stops in sources:
            if starts <= begin < stops:
                held[cells], strength[cells] = 1.0, value
        stiff = HELD * held * (matrix.diagonal() + holds / step)
        # Rows are scaled, or the held ones would hide what is left undone in all others.
        scale = 1.0 / (matrix.diagonal() + holds / step + stiff)
        system = (diags(scale) @ (matrix + diags(holds / step + stiff))).tocsc()
        # In the order of the cells, which is that of flow.
        factor = spilu(system, drop_tol=1e-3, fill_factor=6, permc_spec="NATURAL")
        near = LinearOperator(system.shape, factor.solve)
        for _ in range(number):
            right = scale * (holds / step * now + stiff * strength)
            now, failed = bicgstab(system, right, x0=now, M=near, rtol=1e-9, maxiter=400)
            if failed:
                raise ArithmeticError("concentrations did not converge")
            now = np.maximum(now, 0.0)
        if end in times:
            out.append(now.copy())
    return np.array(out)
