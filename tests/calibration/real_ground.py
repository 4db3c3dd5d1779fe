"""Forward model of a test hole in real ground; shares no code and no method with the program.

Axisymmetric finite volumes in r and z. The zone, the open hole above and below the packer elements
and a draining filter pack are further unknowns, each with one head; a skin ring, layers, Kv/Kh and
a leak past the upper element are part of the matrix. Everything is linear, so one run gives the
response to a unit displacement (or a unit head that is held), stepped in time by TR-BDF2.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

GAMMA = 2.0 - np.sqrt(2.0)
RINGS_SKIN, RINGS_OUT = 5, 26
THIN_ABOVE = 3e-3  # storage of the ground at the wall over that of the well: shut-in tests


@dataclass(frozen=True)
class RealGround:
    """One zone in its hole; SI units, depths in metres below the water table (or the roof).

    `layers` are (top, bottom, K) with horizontal K; where none is given K is `k`. `open_above` and
    `open_below` are metres of open hole beyond the elements of length `element`; 0 means casing.
    `surface` [m2] is the area of the moving level. `pack_area` [m2] drains beside the riser through
    `pack_link` [m2/s]. `leak` [m2/s] passes the upper element into an annulus of `annulus` [m2].
    """

    top: float
    bottom: float
    hole: float
    k: float
    surface: float
    kv_kh: float = 1.0
    storage: float = 1e-5
    base: float = 40.0
    water_table: bool = True
    specific_yield: float | None = None
    layers: tuple[tuple[float, float, float], ...] = ()
    skin: float = 1.0
    skin_radius: float = 0.0
    element: float = 1.0
    open_above: float = 0.0
    open_below: float = 0.0
    annulus: float = 0.0
    leak: float = 0.0
    pack_area: float = 0.0
    pack_link: float = 0.0
    extra: dict[str, float] = field(default_factory=dict)

    @property
    def length(self) -> float:
        """Of the zone [m]."""
        return self.bottom - self.top

    @property
    def zone_k(self) -> float:
        """Mean K along the zone [m/s]: the number that a test is asked for."""
        total = self.k * self.length
        for top, bottom, k in self.layers:
            both = max(0.0, min(bottom, self.bottom) - max(top, self.top))
            total += both * (k - self.k)
        return total / self.length


def _between(low: float, high: float, fine: float, growth: float, widest: float) -> np.ndarray:
    """Edges from low to high, fine at both ends."""
    half, cells = 0.5 * (high - low), [fine]
    while sum(cells) < half:
        cells.append(min(cells[-1] * growth, widest))
    one = np.append(0.0, np.cumsum(cells))
    one *= half / one[-1]
    return np.concatenate((low + one, (high - one)[-2::-1]))


def _depths(g: RealGround, fine: float, growth: float) -> np.ndarray:
    """Edges in z: the water table, every end of zone, element, open hole and layer, the base."""
    marks = {0.0, g.base, g.top, g.bottom}
    if g.open_above:
        marks |= {g.top - g.element, max(g.top - g.element - g.open_above, 0.0)}
    if g.open_below:
        marks |= {g.bottom + g.element, min(g.bottom + g.element + g.open_below, g.base)}
    for top, bottom, _ in g.layers:
        marks |= {top, bottom}
    ordered = sorted(m for m in marks if 0.0 <= m <= g.base)
    kept = [ordered[0]]
    for mark in ordered[1:]:
        if mark - kept[-1] > 1e-6:
            kept.append(mark)
    parts = [
        _between(a, b, min(fine, 0.25 * (b - a)), growth, 0.2 * g.base + fine)
        for a, b in itertools.pairwise(kept)
    ]
    return np.concatenate([parts[0], *(p[1:] for p in parts[1:])])


def _rings(g: RealGround, reach: float) -> np.ndarray:
    """Edges in r, one of them at the skin radius; thin at the wall where ground storage rules."""
    alpha = np.pi * g.hole**2 * g.storage * g.length / g.surface
    if alpha > THIN_ABOVE:
        return _thin_rings(g, reach, g.hole * float(np.clip(0.006 / alpha, 0.002, 0.1)))
    if g.skin_radius > g.hole * 1.001:
        inner = np.geomspace(g.hole, g.skin_radius, RINGS_SKIN + 1)
        return np.append(inner, np.geomspace(g.skin_radius, reach, RINGS_OUT + 1)[1:])
    return np.geomspace(g.hole, reach, RINGS_SKIN + RINGS_OUT + 1)


def _thin_rings(g: RealGround, reach: float, first: float) -> np.ndarray:
    """Edges from a first ring on, each 1.25 times the last until it is .3 of its radius."""
    edges, width = [g.hole], first
    while edges[-1] < reach:
        edges.append(edges[-1] + width)
        width = min(1.25 * width, 0.3 * edges[-1])
    out = np.array(edges)
    if g.skin_radius > g.hole * 1.001:
        out[max(int(np.argmin(np.abs(out - g.skin_radius))), 1)] = g.skin_radius
    return out


@dataclass(frozen=True, eq=False)
class System:
    """Matrix and storage of all unknowns; rows of zone, annulus above, hole below and pack."""

    stiff: sparse.csc_matrix
    mass: np.ndarray
    zone: int
    above: int
    pack: int


def assemble(g: RealGround, *, fine: float = 0.6, growth: float = 1.9) -> System:
    """The whole system: ground cells first, then zone, annulus above, hole below, pack."""
    reach = 40.0 * (g.length + 10 * g.hole) / np.sqrt(g.kv_kh)
    r, z = _rings(g, reach), _depths(g, fine * g.hole, growth)
    nr, nz = r.size - 1, z.size - 1
    mid, dz, centre = np.sqrt(r[1:] * r[:-1]), np.diff(z), 0.5 * (z[1:] + z[:-1])
    k = np.full((nr, nz), g.k)
    for top, bottom, value in g.layers:
        k[:, (centre > top) & (centre < bottom)] = value
    k[mid < g.skin_radius] *= g.skin
    number = np.arange(nr * nz).reshape(nr, nz)
    n, zone, above, below, pack = nr * nz, nr * nz, nr * nz + 1, nr * nz + 2, nr * nz + 3
    rows: list[np.ndarray] = []
    cols: list[np.ndarray] = []
    vals: list[np.ndarray] = []

    def link(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> None:
        rows.extend([a, b, a, b])
        cols.extend([b, a, a, b])
        vals.extend([-c, -c, c, c])

    edge = r[1:-1, None]
    resist = np.log(edge / mid[:-1, None]) / k[:-1] + np.log(mid[1:, None] / edge) / k[1:]
    link(number[:-1].ravel(), number[1:].ravel(), (2 * np.pi * dz / resist).ravel())
    ring = np.pi * (r[1:] ** 2 - r[:-1] ** 2)
    half = 0.5 * dz / (g.kv_kh * k)
    link(
        number[:, :-1].ravel(),
        number[:, 1:].ravel(),
        (ring[:, None] / (half[:, :-1] + half[:, 1:])).ravel(),
    )
    fixed, mass = np.zeros((nr, nz)), g.storage * ring[:, None] * dz
    fixed[-1] += 2 * np.pi * k[-1] * dz / np.log(reach / mid[-1])
    if g.water_table and g.specific_yield is None:
        fixed[:, 0] += ring / half[:, 0]
    elif g.water_table:
        mass[:, 0] += g.specific_yield * ring
    wall = 2 * np.pi * k[0] * dz / np.log(mid[0] / g.hole)
    spans = {zone if g.pack_area == 0 else pack: (g.top, g.bottom)}
    if g.open_above:
        spans[above] = (max(g.top - g.element - g.open_above, 0.0), g.top - g.element)
    if g.open_below:
        spans[below] = (g.bottom + g.element, min(g.bottom + g.element + g.open_below, g.base))
    for row, (low, high) in spans.items():
        here = np.flatnonzero((centre > low) & (centre < high))
        link(number[0, here], np.full(here.size, row), wall[here])
    if g.leak > 0:
        link(np.array([zone]), np.array([above]), np.array([g.leak]))
    if g.pack_area > 0:
        link(np.array([zone]), np.array([pack]), np.array([g.pack_link]))
    single = np.arange(n + 4)
    own = np.append(fixed.ravel(), np.full(4, 1e-30))
    rows, cols, vals = [*rows, single], [*cols, single], [*vals, own]
    stiff = sparse.coo_matrix(
        (np.concatenate(vals), (np.concatenate(rows), np.concatenate(cols))), shape=(n + 4, n + 4)
    ).tocsc()
    tanks = [g.surface, max(g.annulus, 1e-9), 1e-9, max(g.pack_area, 1e-9)]
    return System(stiff, np.append(mass.ravel(), tanks), zone, above, pack)


def slug_response(
    g: RealGround, last: float, *, per_step: int = 4, **grid: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], level and head in the annulus above, both over the first displacement."""
    system = assemble(g, **grid)
    state = np.zeros(system.mass.size)
    state[system.zone] = 1.0
    times, heads, outside = [0.0], [1.0], [0.0]
    for time, values in _march(system.stiff, system.mass, state, last, per_step, first=2e-6):
        times.append(time)
        heads.append(float(values[system.zone]))
        outside.append(float(values[system.above]))
    return np.array(times), np.array(heads), np.array(outside)


def held_response(
    g: RealGround, last: float, *, per_step: int = 4, **grid: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [s], flow into the zone [m2/s per metre of head], head in the annulus above."""
    system = assemble(g, **grid)
    drive = np.zeros(system.mass.size)
    drive[system.zone] = 1.0
    free = np.delete(np.arange(system.mass.size), system.zone)
    stiff = system.stiff[free][:, free]
    push = -(system.stiff @ drive)[free]
    row = system.stiff[system.zone].toarray().ravel()
    rest = splu(stiff.tocsc()).solve(push)  # the steady state; its fading complement is stepped
    times, flow, outside = [], [], []
    for time, values in _march(stiff, system.mass[free], -rest, last, per_step, first=1e-5):
        heads = rest + values
        times.append(time)
        flow.append(float(row[system.zone] + row[free] @ heads))
        outside.append(float(heads[system.above - 1]))
    return np.array(times), np.array(flow), np.array(outside)


def recovery_response(
    g: RealGround, injected: float, last: float, **grid: float
) -> tuple[np.ndarray, np.ndarray]:
    """Times since the stop [s] and head in the zone after a unit head was held, then shut in."""
    system = assemble(g, **grid)
    drive = np.zeros(system.mass.size)
    drive[system.zone] = 1.0
    free = np.delete(np.arange(system.mass.size), system.zone)
    stiff = system.stiff[free][:, free]
    rest = splu(stiff.tocsc()).solve(-(system.stiff @ drive)[free])
    *_, (_, values) = _march(stiff, system.mass[free], -rest, injected, 6, first=1e-5)
    state = np.zeros(system.mass.size)
    state[free] = rest + values
    state[system.zone] = 1.0
    times, heads = [0.0], [1.0]
    for time, now in _march(system.stiff, system.mass, state, last, 6, first=1e-6):
        times.append(time)
        heads.append(float(now[system.zone]))
    return np.array(times), np.array(heads)


def _march(stiff, mass, state, last, per_step, *, first):  # type: ignore[no-untyped-def]
    """Times and states of mass y' = -stiff y; the step doubles after every factorisation."""
    capacity = sparse.diags(mass, format="csc")
    dt, time = last * first, 0.0
    a, b = 1 / (GAMMA * (2 - GAMMA)), (1 - GAMMA) ** 2 / (GAMMA * (2 - GAMMA))
    while time < last:
        solve = splu((capacity + 0.5 * GAMMA * dt * stiff).tocsc()).solve
        for _ in range(per_step):
            middle = solve(mass * state - 0.5 * GAMMA * dt * (stiff @ state))
            state = solve(mass * (a * middle - b * state))
            time += dt
            yield time, state
        dt *= 2.0
