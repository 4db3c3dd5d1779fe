"""Volume and mass above a criterion, what a test is expected to settle, and leaving data out."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from geoprofile import kriging
from geoprofile.geometry.grids import Grid
from geoprofile.products.maps.columns import Column, mass_range, volume_range
from geoprofile.validation.case import Array, Case
from geoprofile.validation.cases.kriging_examples import (
    COVARIANCE,
    SAMPLES,
    TARGET,
    bordered,
    one_more_by_hand,
    samples,
)

THRESHOLD, CRITERION = 594.0, 10.0  # of the samples; ug/L
DRAWS, BOX_M3, POROSITY = 11, 2.0, 0.25
LEFT_OUT = tuple(f"{what} of sample {i}" for i in range(1, 8) for what in ("mean", "sd"))


def _column() -> Column:
    """Four nodes of two boxes each; half of the upper boxes is dry, one node lies outside."""
    grid = Grid(np.array([0.0, 1.0]), np.array([0.0, 1.0]), np.ones((2, 2), dtype=bool), 1.0)
    deep = np.column_stack([np.ones(4), np.full(4, 0.5)])
    return Column(grid, np.array([1.0, 3.0]), deep, np.array([1.0, 1.0, 1.0, 0.0]), BOX_M3)


def _drawn() -> Array:
    """In field i = 0, 1, ... 10 all lower boxes hold 20 + i ug/L, the upper ones 5 ug/L."""
    drawn = np.full((DRAWS, 4, 2), 5.0)
    drawn[:, :, 0] = 20.0 + np.arange(DRAWS)[:, None]
    return drawn


def _masses() -> list[float]:
    found = mass_range(_drawn(), _column(), criterion=CRITERION, porosity=np.full((4, 2), POROSITY))
    return [1e6 * kg for kg in found]


def _volumes() -> list[float]:
    """Range of a volume that is i boxes of nine in field i, scaled to an expected 50 m3."""
    above = np.zeros((DRAWS, 4, 2), dtype=bool)
    for i in range(DRAWS):
        above[i, : i % 4, 0] = True
    found = volume_range(50.0, _column(), above)
    return [np.nan if v is None else v for v in found]


def _volumes_by_hand() -> tuple[float, float]:
    """0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2 boxes: mean 15/11, tenths 0 and 3 of the sorted ones."""
    return 0.0, 50.0 * 3.0 / (15.0 / 11.0)


def _wrong_less() -> list[float]:
    """By how much the volume of wrong classification falls, by the engine."""
    batch = kriging.next_tests(
        kriging.krige(samples(), COVARIANCE),
        kriging.Support.from_points(np.array([[66.0, 135.0, 0.0]])),
        TARGET, THRESHOLD, volume=100.0, noise_variance=0.8,
    )  # fmt: skip
    return [float(batch.gain[0]), float(batch.share[0])]


def _wrong_less_by_quadrature() -> tuple[float, float]:
    """min(p, 1 - p) now less its mean over what the test may show, 40 001 points."""
    mean, variance = bordered()
    explained = one_more_by_hand()[0]
    nodes = np.linspace(-9.0, 9.0, 40001)
    weights = np.exp(-0.5 * nodes**2)
    weights = weights / weights.sum()

    def wrong(middle: Array, spread: float) -> Array:
        p = ndtr((middle - THRESHOLD) / np.sqrt(spread))
        return np.asarray(np.minimum(p, 1 - p), dtype=np.float64)

    now = float(wrong(np.array([mean]), variance)[0])
    later = float(weights @ wrong(mean + np.sqrt(explained) * nodes, variance - explained))
    return 100.0 * (now - later), (now - later) / now


def _left_out() -> list[float]:
    found = kriging.cross_validate(kriging.krige(samples(), COVARIANCE))
    return [float(v) for pair in zip(found.mean, found.sd, strict=True) for v in pair]


def _left_out_by_hand() -> tuple[float, ...]:
    """Each sample from the six others by the bordered matrix."""
    found: list[float] = []
    for i in range(7):
        rest = np.delete(SAMPLES, i, axis=0)
        matrix = np.ones((7, 7))
        matrix[6, 6] = 0.0
        apart = np.linalg.norm(rest[:, None, :2] - rest[None, :, :2], axis=2)
        matrix[:6, :6] = 10 * np.exp(-0.3 * apart)
        near = np.linalg.norm(rest[:, :2] - SAMPLES[i, :2], axis=1)
        right = np.append(10 * np.exp(-0.3 * near), 1.0)
        weights = np.linalg.solve(matrix, right)
        found += [float(weights[:6] @ rest[:, 2]), float(np.sqrt(10 - weights @ right))]
    return tuple(found)


CASES = (
    Case(
        "plume-mass", "plume", "Mass above 10 ug/L in eleven fields, 10, 50 and 90 %",
        "Exact arithmetic: 3 boxes of 2 m3, a quarter water, 21, 25 and 29 ug/L", "derived",
        tuple(6.0 * POROSITY * c for c in (21.0, 25.0, 29.0)), _masses, "mg", relative=1e-9,
        labels=("10 %", "50 %", "90 %"), how="mass_range",
    ),
    Case(
        "plume-volume-range", "plume", "Range of a volume in eleven fields, scaled to its mean",
        "Exact arithmetic: 0 to 3 boxes, mean 15/11, expected 50 m3", "derived",
        _volumes_by_hand(), _volumes, "m3", absolute=1e-9, labels=("10 %", "90 %"),
        how="volume_range",
    ),
    Case(
        "less-misclassified", "advice", "Misclassified volume that a test takes off 100 m3",
        "Expected min(p, 1 - p) summed over 40 001 points, bordered matrices", "derived",
        _wrong_less_by_quadrature(), _wrong_less, relative=1e-3, labels=("gain, m3", "share"),
        how="kriging.next_tests", because="the engine's integral has few nodes",
    ),
    Case(
        "leave-one-out", "fields", "Each of the seven samples from the six others",
        "Bordered matrix of the six", "derived", _left_out_by_hand(), _left_out, relative=1e-8,
        labels=LEFT_OUT, how="kriging.cross_validate",
    ),
)  # fmt: skip
