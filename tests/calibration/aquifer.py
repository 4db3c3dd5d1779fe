"""Steady flow and transport through a heterogeneous aquifer on a regular grid.

Finite volumes in SI units, arrays of shape (nx, ny, nz) with x along the mean flow. The dispersion
tensor is kept diagonal on the grid, with its size from the local speed.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import LinearOperator, bicgstab, cg, spilu


@dataclass(frozen=True)
class Grid:
    """Cells: their number (3,) and size (3,) [m]."""

    shape: tuple
    size: tuple

    @property
    def centres(self):
        """Cell centres, shape (nx * ny * nz, 3) [m]; z is up from the base."""
        axes = [s * (np.arange(n) + 0.5) for n, s in zip(self.shape, self.size, strict=True)]
        return np.stack([a.ravel() for a in np.meshgrid(*axes, indexing="ij")], axis=1)

    def faces(self, axis):
        """Inner faces across an axis: index of the cell before and after, area over distance [m].

        Area [m2] is that times the cell's size along the axis.
        """
        index = np.arange(np.prod(self.shape)).reshape(self.shape)
        before = np.take(index, np.arange(self.shape[axis] - 1), axis=axis)
        after = np.take(index, np.arange(1, self.shape[axis]), axis=axis)
        return before.ravel(), after.ravel(), np.prod(self.size) / self.size[axis] ** 2

    def ends(self):
        """Index of the cells at the inflow and at the outflow."""
        index = np.arange(np.prod(self.shape)).reshape(self.shape)
        return index[0].ravel(), index[-1].ravel()


def darcy(grid, k, drop, flattened=0.2):
    """Flow through every inner face, by axis, and through the two ends [m3/s].

    `k` (cells,) [m/s] is horizontal, the vertical one `flattened` times it; the head falls by
    `drop` [m] from the first face to the last, no flow through the sides.
    """
    count, rows, columns, weights = len(k), [], [], []
    links = []
    for axis in range(3):
        i, j, shape = grid.faces(axis)
        link = shape * 2 * k[i] * k[j] / (k[i] + k[j]) * (flattened if axis == 2 else 1.0)
        links.append((i, j, link))
        rows += [i, j]
        columns += [j, i]
        weights += [link, link]
    rows, columns, weights = (np.concatenate(a) for a in (rows, columns, weights))
    off = coo_matrix((weights, (rows, columns)), (count, count)).tocsr()
    first, last = grid.ends()
    edge = 2 * grid.size[1] * grid.size[2] / grid.size[0]
    fixed = np.zeros(count)
    fixed[first] += edge * k[first]
    fixed[last] += edge * k[last]
    diagonal = np.asarray(off.sum(1)).ravel() + fixed
    right = np.zeros(count)
    right[first] = edge * k[first] * drop
    scale = diags(1 / np.sqrt(diagonal))
    matrix = scale @ (diags(diagonal) - off) @ scale
    head, failed = cg(matrix, scale @ right, rtol=1e-11, maxiter=20000)
    if failed:
        raise ArithmeticError("heads did not converge")
    head = scale @ head
    through = [link * (head[i] - head[j]) for i, j, link in links]
    return through, edge * k[first] * (drop - head[first]), edge * k[last] * head[last]


def speeds(grid, through, inflow, outflow):
    """Darcy velocity at the cells, means of their two faces, shape (cells, 3) [m/s]."""
    out = np.zeros((np.prod(grid.shape), 3))
    for axis, flow in enumerate(through):
        i, j, _ = grid.faces(axis)
        area = np.prod(grid.size) / grid.size[axis]
        np.add.at(out[:, axis], i, 0.5 * flow / area)
        np.add.at(out[:, axis], j, 0.5 * flow / area)
    first, last = grid.ends()
    out[first, 0] += 0.5 * inflow / (grid.size[1] * grid.size[2])
    out[last, 0] += 0.5 * outflow / (grid.size[1] * grid.size[2])
    return out


def transport(grid, flows, source, *, decay, porosity=0.25, spread=(2.0, 0.2, 0.02)):
    """Steady concentration relative to the source, shape (cells,) [-].

    `source` marks cells held at 1, clean water enters; `decay` [1/s]; `spread` are the
    dispersivities along flow, across it and upwards [m]. Fluxes are exponentially fitted
    (Scharfetter & Gummel 1969), exact between two cells and never underdamped.
    """
    through, inflow, outflow = flows
    velocity = speeds(grid, through, inflow, outflow)
    size = np.linalg.norm(velocity, axis=1)
    along, across, up = spread
    count, rows, columns, entries = len(size), [], [], []
    for axis, flow in enumerate(through):
        i, j, shape = grid.faces(axis)
        pace = 0.5 * (size[i] + size[j])
        here = np.abs(flow) / (np.prod(grid.size) / grid.size[axis])
        wide = up if axis == 2 else across
        # 1e-10 m2/s: molecular diffusion in pores, from memory
        link = shape * (wide * pace + (along - wide) * here**2 / pace + porosity * 1e-10)
        leaving, entering = link * _bernoulli(-flow / link), link * _bernoulli(flow / link)
        rows += [i, i, j, j]
        columns += [i, j, j, i]
        entries += [leaving, -entering, entering, -leaving]
    _, last = grid.ends()
    rows += [last, np.arange(count)]
    columns += [last, np.arange(count)]
    entries += [outflow, np.full(count, decay * porosity * np.prod(grid.size))]
    rows, columns, entries = (np.concatenate(a) for a in (rows, columns, entries))
    free = np.flatnonzero(~source)
    matrix = coo_matrix((entries, (rows, columns)), (count, count)).tocsr()
    right = -np.asarray(matrix[free][:, np.flatnonzero(source)].sum(1)).ravel()
    out = np.ones(count)
    out[free] = _solve(matrix[free][:, free], right)
    return out


def _bernoulli(x):
    """The function x / (exp(x) - 1), 1 at nought."""
    small = np.abs(x) < 1e-8
    safe = np.where(small, 1.0, np.clip(x, -500, 500))
    return np.where(small, 1 - x / 2, safe / np.expm1(safe))


def _solve(matrix, right):
    """An incomplete factor, then iterations; rows in order of the cells, which is that of flow."""
    factor = spilu(matrix.tocsc(), drop_tol=1e-3, fill_factor=6, permc_spec="NATURAL")
    near = LinearOperator(matrix.shape, factor.solve)
    found, failed = bicgstab(matrix, right, M=near, rtol=1e-10, maxiter=500)
    if failed:
        raise ArithmeticError("concentrations did not converge")
    return found
