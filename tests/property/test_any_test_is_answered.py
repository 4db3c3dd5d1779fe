"""Whatever is recorded, the answer is a refusal in words or a finite K; noise is never accepted."""

import dataclasses

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geoprofile.errors import DataError
from geoprofile.hydraulics import analyse, interval_value, repeat_check
from geoprofile.hydraulics.tests import HydraulicTest, PressureStep
from geoprofile.plugins import registry

METHODS = list(registry.plugins("methods").values())
KINDS = ("falling head", "rising head", "constant head", "pressure pulse")
SHAPES = ("clean", "noisy", "noise", "rounded", "oscillation", "step")


def readings(rng: np.random.Generator, shape: str) -> tuple[np.ndarray, np.ndarray]:
    """Times and displacements of one shape, of any size and length."""
    count = int(rng.choice([5, 6, 8, 12, 30, 100, 400]))
    time = np.sort(rng.uniform(0.0, 10 ** rng.uniform(-1, 6), count))
    if rng.random() < 0.5:
        time = np.geomspace(1e-3, 10 ** rng.uniform(0, 6), count)
    scaled = time / (time[-1] * 10 ** rng.uniform(-3, 2))
    head = np.exp(-np.minimum(scaled, 700.0))
    shaped = {
        "clean": head,
        "noisy": head + rng.normal(0.0, 10 ** rng.uniform(-4, 0), count),
        "noise": rng.normal(0.0, 1.0, count),
        "rounded": np.round(head, 1),
        "oscillation": head * np.cos(scaled * rng.uniform(0, 20)),
        "step": np.where(scaled < 1.0, 1.0, 0.0) + rng.normal(0.0, 1e-3, count),
    }[shape]
    if rng.random() < 0.1:
        shaped = np.where(rng.random(count) < 0.1, np.nan, shaped)
    return time, shaped * 10 ** rng.uniform(-3, 3)


def recorded(rng: np.random.Generator, kind: str, shape: str) -> HydraulicTest:
    """A test with geometry that may or may not make sense."""
    time, head = readings(rng, shape)
    hole, top = float(rng.uniform(0.01, 0.3)), float(rng.uniform(0.0, 100.0))
    length = float(10 ** rng.uniform(-2, 1.8)) if rng.random() > 0.05 else 0.0
    pressure_steps = tuple(
        PressureStep(
            step=i,
            flow_m3_per_s=float(rng.choice([0.0, 10 ** rng.uniform(-9, -1)])),
            gauge_pressure_pa=float(rng.uniform(0.0, 2e6)),
        )
        for i in range(int(rng.integers(1, 7)))
    )
    return HydraulicTest(
        test="any", interval="any", borehole="any", kind=kind, interval_length_m=length,
        hole_radius_m=hole, riser_radius_m=float(rng.uniform(0.003, hole)), top_m=top,
        bottom_m=top + length, static_depth_m=float(rng.uniform(-2.0, top + length)),
        confined=(None, True, False)[int(rng.integers(3))],
        aquifer_top_m=float(rng.choice([top, 0.5 * top])),
        aquifer_base_m=top + length + float(rng.choice([0.0, 50.0])),
        kv_kh=float(10 ** rng.uniform(-2, 0.5)), elapsed_s=time,
        displacement_m=-head if kind == "rising head" else head, pressure_steps=pressure_steps,
        shut_in_volume_m3=float(10 ** rng.uniform(-4, 0)),
        system_compressibility_per_pa=float(10 ** rng.uniform(-10, -7)),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), kind=st.sampled_from(KINDS), shape=st.sampled_from(SHAPES))
def test_any_test_is_answered(seed: int, kind: str, shape: str) -> None:
    """No crash, no warning, no K that is not a number, no noise or step accepted."""
    rng = np.random.default_rng(seed)
    test = recorded(rng, kind, shape)
    if rng.random() < 0.3:  # a user who insists
        test = dataclasses.replace(
            test,
            chosen_method=str(rng.choice([method.name for method in METHODS])),
            chosen_window=(float(rng.uniform(0.0, 1.2)), float(rng.uniform(0.0, 1.0))),
            chosen_start_s=float(rng.uniform(-5.0, 0.5 * test.elapsed_s[-1])),
        )
    try:
        analysis = analyse(test, METHODS)
    except DataError:
        return
    for result in analysis.results:
        numbers = (result.k_low_m_per_s, result.k_m_per_s, result.k_high_m_per_s)
        assert np.isfinite([*numbers, result.sd_log10_k]).all()
        assert 0 < result.k_low_m_per_s < result.k_high_m_per_s
        assert np.isfinite(result.fitted).all()
    if kind != "constant head":
        repeat_check([test, test])
        if shape in ("noise", "step") and not analysis.by_user:
            assert analysis.grade != "accepted"
    if analysis.best is not None:
        assert interval_value([analysis, analysis]).k_m_per_s > 0
