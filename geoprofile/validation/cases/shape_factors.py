"""Shape factors of zones and ends of casing, held to potential theory."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy import sparse
from scipy.integrate import quad
from scipy.sparse.linalg import spsolve

from geoprofile.hydraulics import shapes
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.validation.case import Array, Case, Second
from geoprofile.validation.cases.recoveries import HAND, HVORSLEV, falling, k_by

VAN_ROOY = "Van Rooy (1988), polynomials printed in Butler (1998)"
LENGTHS, RADIUS = (0.5, 3.0, 30.0), 0.05
RATIOS = (8.0, 20.0, 100.0)
SPOTS = {
    5.0: (1.6468, 0.2629, 0.9272),
    50.0: (3.0492, 0.4880, 2.5867),
    500.0: (8.0757, 2.1280, 10.5554),
}
RIVER_BED_RATIO = 2.37  # ln(Re/rw) read from the chart by its authors


def _mean_potential(length: float) -> float:
    """Mean potential of a uniform line source on its own wall."""

    def potential(z: float) -> float:
        return 0.5 * (math.asinh((length - z) / RADIUS) + math.asinh(z / RADIUS))

    return float(quad(potential, 0, length, limit=200)[0] / length)


def _sphere() -> float:
    """One over the head lost from a sphere of 0.3 m: the integral of 1/(4 pi r^2)."""
    return 1 / float(quad(lambda r: 1 / (4 * math.pi * r**2), 0.15, math.inf)[0])


def _graded(length: float, cells: int) -> Array:
    """Edges from 0 to `length`, finest at 0."""
    return np.append(0.0, np.geomspace(2e-3, length, cells))


@cache
def open_end() -> float:
    """Shape factor over D of the open end of an impermeable casing in free ground.

    Returns
    -------
    float [-]
        By finite volumes in r and z (radius 1), graded towards the rim, the edge 200 radii away.
        The casing goes up to that edge; water in it has one head down to the end.
    """
    far = _graded(200.0, 60)
    r = np.concatenate([1 - _graded(1.0, 30)[::-1], 1 + far[1:]])
    z = np.concatenate([-far[::-1], far[1:]])
    rc, zc, dz = (r[1:] + r[:-1]) / 2, (z[1:] + z[:-1]) / 2, np.diff(z)
    number = np.arange(rc.size * zc.size).reshape(rc.size, zc.size)
    ground = ~((rc < 1)[:, None] & (zc < 0)[None, :])
    area = math.pi * np.diff(r**2)
    radial = 2 * math.pi * (r[1:-1] / np.diff(rc))[:, None] * dz * (ground[1:] & ground[:-1])
    vertical = (area[:, None] / np.diff(zc)) * (ground[:, 1:] & ground[:, :-1])
    own = np.where(ground, 0.0, 1.0)
    own[-1] += 2 * math.pi * r[-1] * dz / (r[-1] - rc[-1])
    own[:, -1] += area / (z[-1] - zc[-1])
    own[:, 0] += area / (zc[0] - z[0]) * ground[:, 0]
    below = int(np.searchsorted(zc, 0.0))
    end = np.where(rc < 1, area / zc[below], 0.0)
    own[:, below] += end
    right = np.zeros(number.shape)
    right[:, below] = end
    one = np.concatenate([number[:-1].ravel(), number[:, :-1].ravel()])
    two = np.concatenate([number[1:].ravel(), number[:, 1:].ravel()])
    link = np.concatenate([radial.ravel(), vertical.ravel()])
    off = sparse.coo_matrix((link, (one, two)), shape=(number.size, number.size))
    off = off + off.T
    total = np.asarray(off.sum(axis=1)).ravel() + own.ravel()
    head = spsolve((sparse.diags(total) - off).tocsc(), right.ravel()).reshape(number.shape)
    return float(np.sum(end * (1 - head[:, below])) / 2)


CASES = (
    Case(
        "line-source", "k-recovery", "Mean head along an isolated interval, P",
        "Potential of a line, by quadrature", "derived",
        tuple(_mean_potential(x) for x in LENGTHS),
        lambda: [shapes.log_ratio_mean_head(x, RADIUS) for x in LENGTHS], relative=1e-8,
        labels=tuple(f"{x:g} m" for x in LENGTHS), how="shapes.log_ratio_mean_head",
    ),
    Case(
        "sphere", "k-recovery", "Shape factor of a sphere of 0.3 m: 2 pi D",
        f"{HVORSLEV}, case 1; potential theory", "derived", (_sphere(),),
        lambda: [shapes.sphere(0.3)], "m", relative=1e-8, how="shapes.sphere",
    ),
    Case(
        "flat-end", "k-recovery", "Open end in free ground over a disc at an upper boundary, 2 D",
        f"{HVORSLEV}, cases 3 and 4", "from memory", (1.375,),
        lambda: [shapes.flat_end(0.1) / (2 * 0.1)], relative=1e-9, how="shapes.flat_end",
        beside="hvorslev-open-end",
    ),
    Case(
        "zone-at-a-boundary", "k-recovery", "A zone at an upper boundary over half of one twice as "
        "long", "Symmetry: the boundary is a mirror", "derived", (1.0,),
        lambda: [
            shapes.interval_at_upper_boundary(3.0, 0.05, kv_kh=0.3)
            / (shapes.interval_in_ground(6.0, 0.05, kv_kh=0.3) / 2)
        ],
        relative=1e-13, how="shapes.interval_at_upper_boundary and interval_in_ground",
    ),
    Case(
        "short-form", "k-recovery", "P of case 8 beside its short form ln(L/rw)",
        f"{HVORSLEV}, case 8", "derived", tuple(math.log(r) for r in RATIOS),
        lambda: [2 * math.pi * r / shapes.interval_in_ground(r, 1.0) for r in RATIOS],
        relative=0.008, labels=tuple(f"L/rw {r:g}" for r in RATIOS),
        how="shapes.interval_in_ground", because="the short form itself is off by up to 0.8 %",
    ),
    Case(
        "anisotropy", "k-recovery", "Kv/Kh 0.1 over the radius times its root",
        "Symmetry: stretched coordinates", "derived", (1.0,),
        lambda: [
            shapes.interval_in_ground(2.0, 0.05, kv_kh=0.1)
            / shapes.interval_in_ground(2.0, 0.05 * math.sqrt(0.1))
        ],
        relative=1e-13, how="shapes.interval_in_ground",
    ),
    Case(
        "hvorslev", "k-recovery", "Zone of 1.5 m, isotropic and with Kv/Kh 0.1",
        f"{HVORSLEV}, case 8, worked by hand", "from memory", (7.404e-6, 9.879e-6),
        lambda: [k_by("hvorslev", falling(100.0, kv_kh=r))[0] for r in (1.0, 0.1)], "m/s",
        relative=HAND, labels=("Kv/Kh 1", "Kv/Kh 0.1"), how="method hvorslev",
        because="four digits worked by hand",
        second=Second(
            "the closed potential of a half-ellipsoid, asinh",
            lambda: [
                0.0254**2 * math.asinh(1.5 / 0.096 / math.sqrt(r)) / (2 * 1.5 * 100.0)
                for r in (1.0, 0.1)
            ],
            HAND,
        ),
    ),
    Case(
        "hvorslev-open-end", "k-recovery", "Open end of a casing of 96 mm: 2.75 D",
        f"{HVORSLEV}, case 4, worked by hand", "from memory", (7.677e-5,),
        lambda: k_by("hvorslev-open-end", falling(100.0, interval_length_m=0.0, bottom_m=30.0)),
        "m/s", relative=HAND, how="method hvorslev-open-end", because="four digits worked by hand",
        second=Second(
            "finite volumes; 2.75 was measured in an electric tank",
            lambda: [math.pi * 0.0254**2 / (open_end() * 0.096 * 100.0)], 0.04,
        ),
    ),
    Case(
        "hvorslev-confining-layer", "k-recovery", "Zone of 2 m below a confining layer",
        f"{HVORSLEV}, case 7, worked by hand", "from memory", (1.4268e-5,),
        lambda: k_by(
            "hvorslev-confining-layer",
            falling(50.0, interval_length_m=2.0, bottom_m=32.0, confined=True, aquifer_top_m=30.0),
        ),
        "m/s", relative=HAND, how="method hvorslev-confining-layer",
        because="four digits worked by hand",
        second=Second(
            "half of a zone of twice the length, by its mirror image",
            lambda: [0.0254**2 * math.asinh(2.0 / 0.048) / (2 * 2.0 * 50.0)], HAND,
        ),
    ),
    Case(
        "bouwer-rice-chart", "k-recovery", "A, B and C of the chart at three spots", VAN_ROOY,
        "from memory", tuple(v for spot in SPOTS.values() for v in spot),
        lambda: [v for r in SPOTS for v in shapes.bouwer_rice_coefficients(r)], relative=1.5e-4,
        labels=tuple(f"{name} at Le/rw {r:g}" for r in SPOTS for name in "ABC"),
        how="shapes.bouwer_rice_coefficients", because="coefficients carry four digits",
        beside="bouwer-rice-log-ratio",
    ),
    Case(
        "bouwer-rice-log-ratio", "k-recovery", "ln(Re/rw) of the Salt River bed example",
        "Bouwer and Rice (1976), Water Resources Research 12(3), 423-428", "from memory",
        (RIVER_BED_RATIO,),
        lambda: [shapes.bouwer_rice_log_ratio(4.56, 0.12, below_water=5.5, saturated=80.0)],
        relative=0.03, how="shapes.bouwer_rice_log_ratio",
        because="a polynomial stands for a chart read by eye",
        second=Second(
            "their equation with the chart values A 2.6, B 0.42 by hand", lambda: [chart_ratio()],
            0.02,
        ),
    ),
    Case(
        "bouwer-rice", "k-recovery", "K of the Salt River bed example",
        "Bouwer and Rice (1976), Water Resources Research 12(3), 423-428", "from memory",
        (3.6e-4,), lambda: k_by("bouwer-rice", _river_bed()), "m/s", relative=0.03,
        how="method bouwer-rice", because="a polynomial stands for a chart read by eye",
        second=Second(
            "their equation with the chart values A 2.6, B 0.42 by hand",
            lambda: [0.076**2 * chart_ratio() / (2 * 4.56) * math.log(0.290 / 0.0025) / 20.0],
            0.03,
        ),
    ),
    Case(
        "bouwer-rice-zone", "k-recovery", "Zone of 3 m below 8 m of water, base far below",
        f"Bouwer and Rice (1976) with {VAN_ROOY}: A 3.3885, B 0.54858 worked by hand",
        "from memory", (3.4766e-6,),
        lambda: k_by(
            "bouwer-rice", falling(100.0, interval_length_m=3.0, top_m=12.0, bottom_m=15.0)
        ),
        "m/s", relative=HAND, how="method bouwer-rice", because="four digits worked by hand",
        second=Second(
            "the equation with A 3.3885 and B 0.54858, by hand",
            lambda: [
                0.0254**2
                / (600 * (1.1 / math.log(11 / 0.048) + (3.3885 + 6 * 0.54858) / 62.5))
            ],
            HAND,
        ),
    ),
)  # fmt: skip


def chart_ratio() -> float:
    """ln(Re/rw) of the example from its own chart values."""
    return 1.0 / (1.1 / math.log(5.5 / 0.12) + (2.6 + 0.42 * 6.0) / (4.56 / 0.12))


def _river_bed() -> HydraulicTest:
    time = np.linspace(0.0, 20.0, 60)
    rate = math.log(0.290 / 0.0025) / 20.0
    return HydraulicTest(
        test="1", interval="1", borehole="1", kind="falling head", interval_length_m=4.56,
        hole_radius_m=0.12, riser_radius_m=0.076, top_m=0.94, bottom_m=5.5, static_depth_m=0.0,
        aquifer_base_m=80.0, elapsed_s=time, displacement_m=0.290 * np.exp(-rate * time),
    )  # fmt: skip
