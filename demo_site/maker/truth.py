"""The known truth, as numbers beside the tables."""

from __future__ import annotations

from typing import Any

import numpy as np

from maker import ground, plume
from maker.campaign import INTERVAL_SCATTER, TEST_SCATTER, Test
from maker.holes import Interval

CELL = np.array([3.0, 3.0, 0.5])  # [m]
SECTIONS = {
    "A": [(6.0, 98.0), (150.0, 108.0), (292.0, 121.0)],
    "B": [(121.0, 40.0), (121.0, 170.0)],
    "C": [(222.0, 50.0), (222.0, 185.0)],
}
SITE = [(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)]
NO_DRILLING = {
    "store": [(136.0, 112.0), (156.0, 114.0), (154.0, 134.0), (134.0, 132.0)],
    "buried cables": [(190.0, 20.0), (196.0, 20.0), (200.0, 190.0), (194.0, 190.0)],
}
SOURCE_AREA = [(46.0, 90.0), (64.0, 92.0), (62.0, 113.0), (44.0, 111.0)]


def places(corners: list[tuple[float, float]]) -> list[list[float]]:
    """Local corners as site coordinates."""
    return [[round(float(v), 2) for v in ground.ORIGIN + c] for c in corners]


def rounded(value: float) -> float:
    """Six significant digits."""
    return float(f"{value:.5e}")


def cells() -> np.ndarray:
    """Centres of cells that fill the saturated domain, (n, 3)."""
    top = 10.0
    axes = [
        ground.ORIGIN[0] + np.arange(CELL[0] / 2, ground.SIZE[0], CELL[0]),
        ground.ORIGIN[1] + np.arange(CELL[1] / 2, ground.SIZE[1], CELL[1]),
        np.arange(ground.BASE_ELEVATION + CELL[2] / 2, top, CELL[2]),
    ]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    table = grid.copy()
    table[:, 2] = 1e3  # a point above the table has the table's head
    return grid[grid[:, 2] < ground.head(table)]


def volume_truth(centres: np.ndarray) -> list[dict[str, Any]]:
    """Volume of ground [m3] and area seen from above [m2] over each criterion."""
    out = []
    for substance in plume.PLUMES:
        # Six standard deviations of the small-scale field above the smooth plume.
        most = plume.smooth(centres, substance) * 10.0 ** (6.0 * plume.PATCHINESS)
        near = centres[most > substance.criterion_ug_per_l]
        first = plume.concentration(near, substance.analyte, plume.ROUNDS[0])
        for sampling_round, factor in zip(plume.ROUNDS, substance.round_factors, strict=True):
            over = near[first * factor > substance.criterion_ug_per_l]
            out.append(
                {
                    "analyte": substance.analyte,
                    "round": sampling_round,
                    "criterion_ug_per_l": substance.criterion_ug_per_l,
                    "volume_m3": rounded(len(over) * float(np.prod(CELL))),
                    "area_m2": rounded(len(np.unique(over[:, :2], axis=0)) * CELL[0] * CELL[1]),
                }
            )
    return out


def discharge_truth() -> list[dict[str, Any]]:
    """Mass discharge [g/d] through the straight sections B and C: sum of K i C over the face."""
    out = []
    for name in ("B", "C"):
        (x, low), (_, high) = SECTIONS[name]
        across = np.arange(low + 0.5, high, 1.0)
        up = np.arange(ground.BASE_ELEVATION + 0.125, 9.0, 0.25)
        y, z = (a.ravel() for a in np.meshgrid(across, up, indexing="ij"))
        points = np.stack([np.full(len(y), x) + ground.ORIGIN[0], y + ground.ORIGIN[1], z], axis=1)
        table = points.copy()
        table[:, 2] = 1e3
        points = points[points[:, 2] < ground.head(table)]
        flux = 10.0 ** ground.log10_conductivity(points) * ground.GRADIENT
        flux = flux * ground.flow_direction()[0]  # the part square to the section
        for substance in plume.PLUMES:
            first = plume.concentration(points, substance.analyte, plume.ROUNDS[0])
            for sampling_round, factor in zip(plume.ROUNDS, substance.round_factors, strict=True):
                # ug/L are mg/m3; faces of 1 m by 0.25 m; seconds to days.
                grams = float(np.sum(flux * first)) * factor * 1e-3 * 0.25 * 86_400.0
                row = {"section": name, "analyte": substance.analyte, "round": sampling_round}
                out.append({**row, "discharge_g_per_d": rounded(grams)})
    return out


def interval_truth(intervals: list[Interval]) -> dict[str, Any]:
    """K and concentrations of every interval."""
    out = {}
    for interval in intervals:
        points = interval.points()
        values = {
            p.analyte: [
                rounded(plume.interval_concentration(points, p.analyte, r)) for r in plume.ROUNDS
            ]
            for p in plume.PLUMES
        }
        out[interval.name] = {
            "k_m_per_s": rounded(ground.interval_conductivity(points)),
            "concentration_ug_per_l": values,
        }
    return out


def point_truth() -> list[list[float]]:
    """x, y, elevation, log10 K, TCE in the latest round [ug/L] at 200 random points."""
    rng = np.random.default_rng([ground.SEED, 10])
    low = np.array([*ground.ORIGIN, -30.0])
    points = np.round(low + rng.random((200, 3)) * [*ground.SIZE, 36.0], 2)
    k = ground.log10_conductivity(points)
    c = plume.concentration(points, "TCE", plume.ROUNDS[-1])
    return [
        [*map(float, p), round(float(a), 4), rounded(float(b))]
        for p, a, b in zip(points, k, c, strict=True)
    ]


def truth(intervals: list[Interval], tests: list[Test]) -> dict[str, Any]:
    """Everything that was put in."""
    return {
        "seed": ground.SEED,
        "conductivity": {
            "mean_log10_m_per_s": ground.MEAN_LOG10_K,
            "sd_log10": ground.SD_LOG10_K,
            "covariance": "exponential, a in exp(-h/a)",
            "lengths_m": ground.LENGTHS.tolist(),
            "bedding_dip_m_per_m_eastwards": ground.BEDDING_DIP,
            "kv_kh": ground.KV_KH,
            "specific_storage_per_m": ground.SPECIFIC_STORAGE,
            "broken_bed": {
                "centre": [
                    *places([tuple(ground.BROKEN_BED_CENTRE[:2])])[0],
                    float(ground.BROKEN_BED_CENTRE[2]),
                ],
                "radius_m": ground.BROKEN_BED_RADIUS,
                "half_thickness_m": ground.BROKEN_BED_THICKNESS,
                "gain_log10": ground.BROKEN_BED_GAIN,
            },
            "interval_scatter_ln": INTERVAL_SCATTER,
            "test_scatter_ln": TEST_SCATTER,
        },
        "flow": {
            "azimuth_deg": ground.FLOW_AZIMUTH,
            "gradient": ground.GRADIENT,
            "vertical_gradient": ground.VERTICAL_GRADIENT,
        },
        "plumes": [
            {
                **p.__dict__,
                "limits_ug_per_l": list(p.limits_ug_per_l),
                "round_factors": list(p.round_factors),
            }
            for p in plume.PLUMES
        ],
        "plume_source": [
            *places([tuple(plume.SOURCE[:2])])[0],
            float(plume.SOURCE[2]),
        ],
        "plume_dip_deg": plume.DIP,
        "volumes": volume_truth(cells()),
        "discharges": discharge_truth(),
        "intervals": interval_truth(intervals),
        "tests": {
            t.name: {
                "k_m_per_s": rounded(t.conductivity_m_per_s),
                "displacement_m": rounded(t.displacement_m),
                "story": t.story,
            }
            for t in tests
        },
        "points": point_truth(),
    }
