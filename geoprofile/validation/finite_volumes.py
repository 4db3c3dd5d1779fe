"""Forward model of a well in layered ground: finite volumes in r and z, the well as one more cell.

A second route: it shares no code and no method with the program. The whole is a system of ordinary
differential (and, for an underdamped column, algebraic) equations, stepped in time by TR-BDF2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

Array: TypeAlias = NDArray[np.float64]
Index: TypeAlias = NDArray[np.signedinteger[Any]]
Matrix: TypeAlias = Any  # of scipy.sparse
GRAVITY = 9.80665
GAMMA = 2.0 - np.sqrt(2.0)


@dataclass(frozen=True)
class Ground:
    """Interval and ground, SI units; distances from the interval to top and base."""

    length: float
    hole: float
    k: float
    kv_kh: float
    storage: float
    above: float
    below: float
    water_table: bool
    storage_area: float  # [m2] of the free surface, or Vw Cs rho g
    skin_k: float | None = None  # [m/s] within the skin radius
    skin_radius: float = 0.0  # [m]


def _graded(length: float, first: float, growth: float) -> Array:
    """Edges from 0 to `length`, cells growing from `first`."""
    cells = [first]
    while sum(cells) < length:
        cells.append(cells[-1] * growth)
    edges = np.append(0.0, np.cumsum(cells))
    return np.asarray(edges * length / edges[-1])


def _vertical(ground: Ground, fine: float, growth: float) -> Array:
    """Edges in z, fine at both ends of the interval."""
    half = _graded(0.5 * ground.length, fine, growth)
    inside = np.append(half, ground.length - half[-2::-1])
    parts = [ground.above + inside]
    if ground.above > 1e-9:
        parts.insert(0, ground.above - _graded(ground.above, fine, growth)[:0:-1])
    if ground.below > 1e-9:
        parts.append(ground.above + ground.length + _graded(ground.below, fine, growth)[1:])
    return np.concatenate(parts)


def assemble(
    ground: Ground, *, reach: float, rings: int = 70, fine: float = 0.3, growth: float = 1.35
) -> tuple[Matrix, Array, Array]:
    """Conductance matrix, storage of each cell and conductances from the well to the ground."""
    r = np.geomspace(ground.hole, reach, rings + 1)
    z = _vertical(ground, fine * ground.hole, growth)
    nz, nr = z.size - 1, rings
    mid = np.sqrt(r[1:] * r[:-1])
    dz = np.diff(z)
    number = np.arange(nr * nz).reshape(nr, nz)
    rows, cols, vals = [], [], []

    def link(a: Index, b: Index, c: Array) -> None:
        rows.extend([a, b, a, b])
        cols.extend([b, a, a, b])
        vals.extend([-c, -c, c, c])

    k = np.full(nr, ground.k)
    if ground.skin_k is not None:
        k[mid < ground.skin_radius] = ground.skin_k
    inner, outer = np.log(r[1:-1] / mid[:-1]) / k[:-1], np.log(mid[1:] / r[1:-1]) / k[1:]
    radial = 2 * np.pi * dz[None, :] / (inner + outer)[:, None]
    link(number[:-1].ravel(), number[1:].ravel(), radial.ravel())
    ring = np.pi * (r[1:] ** 2 - r[:-1] ** 2)
    kz = ground.kv_kh * k
    vertical = (kz * ring)[:, None] / (0.5 * (dz[1:] + dz[:-1]))[None, :]
    link(number[:, :-1].ravel(), number[:, 1:].ravel(), vertical.ravel())
    edge = np.zeros((nr, nz))
    edge[-1] += 2 * np.pi * ground.k * dz / np.log(reach / mid[-1])
    if ground.water_table:
        edge[:, 0] += (kz * ring) / (0.5 * dz[0])
    centre = 0.5 * (z[1:] + z[:-1])
    open_part = (centre > ground.above) & (centre < ground.above + ground.length)
    wall = np.where(open_part, 2 * np.pi * k[0] * dz / np.log(mid[0] / ground.hole), 0.0)
    own = edge.copy()
    own[0] += wall
    flat = number.ravel()
    matrix = sparse.coo_matrix(
        (
            np.concatenate([*vals, own.ravel()]),
            (np.concatenate([*rows, flat]), np.concatenate([*cols, flat])),
        ),
        shape=(flat.size, flat.size),
    ).tocsc()
    to_wall = np.zeros(flat.size)
    to_wall[number[0]] = wall
    return matrix, (ground.storage * ring[:, None] * dz[None, :]).ravel(), to_wall


def _step(mass: Matrix, stiff: Matrix, state: Array, dt: float, count: int) -> list[Array]:
    """`count` TR-BDF2 steps of mass y' = -stiff y with one factorisation."""
    solve = splu((mass + 0.5 * GAMMA * dt * stiff).tocsc()).solve
    out = []
    for _ in range(count):
        middle = solve(mass @ state - 0.5 * GAMMA * dt * (stiff @ state))
        a, b = 1 / (GAMMA * (2 - GAMMA)), (1 - GAMMA) ** 2 / (GAMMA * (2 - GAMMA))
        state = solve(mass @ (a * middle - b * state))
        out.append(state)
    return out


def _even_flow(matrix: Matrix, capacity: Array, wall: Array, area: float) -> tuple[Matrix, Matrix]:
    """System with unknowns ground heads, level and flow; flow even along the interval."""
    share = (wall / wall.sum())[:, None]
    closed = (matrix - sparse.diags(wall)).tocsc()
    zero = np.zeros((capacity.size, 1))
    stiff = sparse.bmat(
        [
            [closed, zero, -share],
            [None, np.array([[0.0]]), np.array([[1.0]])],
            [-share.T, np.array([[1.0]]), np.array([[-1.0 / wall.sum()]])],
        ],
        format="csc",
    )
    return stiff, sparse.diags(np.concatenate([capacity, [area, 0.0]]), format="csc")


def recovery(
    ground: Ground, last: float, *, one_head: bool = True, **grid: Any
) -> tuple[Array, Array]:
    """Times [s] to `last` and H/H0 of a well let go at once.

    With `one_head` the whole interval has one head, as water in a hole has; without it the flow
    is even along the interval and the level follows the mean head.
    """
    reach = grid.pop("reach", 60.0 * (ground.length + 10 * ground.hole) / np.sqrt(ground.kv_kh))
    matrix, capacity, wall = assemble(ground, reach=reach, **grid)
    n = capacity.size
    stiff = sparse.bmat(
        [[matrix, -wall[:, None]], [-wall[None, :], np.array([[wall.sum()]])]], format="csc"
    )
    mass = sparse.diags(np.append(capacity, ground.storage_area), format="csc")
    state = np.append(np.zeros(n), 1.0)
    if not one_head:
        stiff, mass = _even_flow(matrix, capacity, wall, ground.storage_area)
        state = np.append(state, 0.0)
    dt, time, times, heads = last * 2e-6, 0.0, [0.0], [1.0]
    while time < last:
        states = _step(mass, stiff, state, dt, 8)
        times += [time + dt * (i + 1) for i in range(8)]
        heads += [float(s[n]) for s in states]
        time, state = time + 8 * dt, states[-1]
        dt *= 1.8
    return np.array(times), np.array(heads)


def oscillation(
    ground: Ground,
    column: float,
    last: float,
    *,
    friction: float = 0.0,
    steps: int = 1500,
    **grid: Any,
) -> tuple[Array, Array]:
    """Times and w/w0 of a column [m] with inertia; `friction` [s] is its laminar damping."""
    reach = grid.pop("reach", 60.0 * (ground.length + 10 * ground.hole) / np.sqrt(ground.kv_kh))
    matrix, capacity, wall = assemble(ground, reach=reach, **grid)
    n = capacity.size
    zero = np.zeros((n, 1))
    # unknowns: ground heads, head in the zone, level w, velocity v
    total = np.array([[wall.sum()]])
    stiff = sparse.bmat(
        [
            [matrix, -wall[:, None], zero, zero],
            [-wall[None, :], total, None, np.array([[ground.storage_area]])],
            [None, None, np.array([[0.0]]), np.array([[-1.0]])],
            [None, np.array([[-1.0]]), np.array([[1.0]]), np.array([[friction]])],
        ],
        format="csc",
    )
    mass = sparse.diags(np.concatenate([capacity, [0.0, 1.0, column / GRAVITY]]), format="csc")
    state = np.concatenate([np.zeros(n), [0.0, 1.0, 0.0]])
    dt = last / steps
    levels = [1.0] + [float(s[n + 1]) for s in _step(mass, stiff, state, dt, steps)]
    return np.asarray(np.arange(steps + 1) * dt, dtype=float), np.array(levels)
