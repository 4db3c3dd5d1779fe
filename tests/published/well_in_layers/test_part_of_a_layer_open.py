"""Part of a layer open to the well: kept values and a finite-volume model; see source.md."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from geoprofile.hydraulics.curve_table import tabulate
from geoprofile.hydraulics.methods import radial_storage
from geoprofile.hydraulics.recovery import (
    ground_modes,
    layer_modes,
    one_head_share,
    radial_modes,
    recovery,
    steady_log_ratio,
)
from geoprofile.hydraulics.shapes import log_ratio_mean_head
from geoprofile.hydraulics.tests import HydraulicTest

SECONDS = np.array([5.0, 20.0, 60.0, 150.0])
KEPT = {
    False: (0.984080, 0.947891, 0.864875, 0.710755),
    True: (0.984080, 0.947891, 0.864874, 0.710596),
}


def load_forward() -> ModuleType:
    """The finite-volume model kept beside the calibration."""
    path = Path(__file__).parents[2] / "calibration" / "forward.py"
    spec = importlib.util.spec_from_file_location("well_forward", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["well_forward"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("water_table", [False, True])
def test_kept_values(water_table: bool) -> None:
    """H/H0 at four times, to 1e-5."""
    modes = layer_modes(1.5, 2.5, 4.0, 0.05, kv_kh=0.1, water_table=water_table)
    found = recovery(2e-5 * SECONDS / 0.05**2, 1e-4, modes)
    assert found == pytest.approx(KEPT[water_table], abs=1e-5)


@pytest.mark.parametrize("water_table", [False, True])
def test_finite_volumes_agree(water_table: bool) -> None:
    """A finite-volume run with even flow agrees within 1e-3, the error of its grid."""
    forward = load_forward()
    ground = forward.Ground(1.0, 0.05, 1e-5, 0.1, 1e-4, 1.5, 1.5, water_table, np.pi * 0.05**2)
    time, head = forward.recovery(ground, 160.0, one_head=False, reach=40.0)
    assert np.interp(SECONDS, time, head) == pytest.approx(KEPT[water_table], abs=1e-3)


def test_one_head_along_the_interval_differs_by_two_percent() -> None:
    """Water in the hole has one head; even flow takes P, and so K, some 2 % too high."""
    forward = load_forward()
    radius, k, length = 0.025, 1e-6, 3.0
    ground = forward.Ground(length, 0.048, k, 0.3, 1e-6, 8.0, 20.0, True, np.pi * radius**2)
    time, head = forward.recovery(ground, 1600.0)
    modes = layer_modes(8.0, 11.0, 31.0, 0.048, kv_kh=0.3, water_table=True)
    tau = 2 * length * k * time[1:] / radius**2
    ours = recovery(tau, 0.048**2 * 1e-6 * length / radius**2, modes)
    lag = np.interp(-0.37, -head, time), np.interp(-0.37, -ours, time[1:])
    assert 1.005 < lag[1] / lag[0] < 1.03
    share = one_head_share(8.0, 11.0, 31.0, 0.048, kv_kh=0.3, water_table=True)
    assert share * lag[1] / lag[0] == pytest.approx(1.0, abs=0.004)  # error of the grid


def test_whole_thickness_is_radial_flow() -> None:
    """An interval through the whole layer is the radial case."""
    tau = np.geomspace(0.01, 30.0, 12)
    whole = layer_modes(0.0, 3.0, 3.0, 0.05, kv_kh=0.2, water_table=False)
    radial = recovery(tau, 1e-4, radial_modes())
    assert recovery(tau, 1e-4, whole) == pytest.approx(radial, abs=1e-9)


def test_far_boundaries_give_the_potential_of_a_line() -> None:
    """Far from all boundaries P of even flow is that of a line with its mean head, within 1 %."""
    modes = layer_modes(30.0, 32.0, 62.0, 0.05, kv_kh=0.5, water_table=True)
    assert steady_log_ratio(modes) == pytest.approx(
        log_ratio_mean_head(2.0, 0.05, kv_kh=0.5), rel=0.01
    )


def test_upper_boundary_is_a_mirror() -> None:
    """An interval under an impermeable upper boundary behaves as half of one twice as long."""
    kw = {"kv_kh": 1.0, "base_distance": None, "water_table": False}
    under = steady_log_ratio(ground_modes(2.0, 0.05, upper_boundary_distance=0.0, **kw))
    free = steady_log_ratio(ground_modes(4.0, 0.05, upper_boundary_distance=None, **kw))
    assert under == pytest.approx(free, rel=0.01)


@pytest.mark.parametrize("alpha", [1e-9, 1e-6, 1e-4, 1e-2])
@pytest.mark.parametrize("kv_kh", [0.1, 1.0])
def test_quick_curve_for_fitting(alpha: float, kv_kh: float) -> None:
    """The tabulated curve agrees with the direct sum to 5e-5, finer than any sensor."""
    modes = layer_modes(2.0, 5.0, 25.0, 0.048, kv_kh=kv_kh, water_table=True)
    tau = np.geomspace(1e-2, 20.0, 24)
    assert tabulate(modes).recovery(tau, alpha) == pytest.approx(
        recovery(tau, alpha, modes, nodes=16), abs=5e-5
    )


def test_low_k_skin_shows_as_absurd_storage() -> None:
    """Radial flow with a skin of a fifth of K: K comes back, Ss falls by exp(-2 s) and is flagged.

    s = (K/Kskin - 1) ln(rskin/rw) = 2.94; the apparent storage law is an own derivation.
    """
    forward = load_forward()
    k, length, hole, riser = 3e-6, 3.0, 0.048, 0.025
    ground = forward.Ground(
        length, hole, k, 1.0, 1e-5, 0.0, 0.0, False, np.pi * riser**2,
        skin_k=0.2 * k, skin_radius=0.1,
    )  # fmt: skip
    lag = riser**2 * 7.0 / (2 * length * k)
    time, head = forward.recovery(ground, 4 * lag, rings=150)
    read = np.append(0.0, np.geomspace(lag / 500, 3.5 * lag, 300))
    noise = np.random.default_rng(1).normal(0.0, 0.0005, read.size)
    test = HydraulicTest(
        test="1", interval="1", borehole="1", kind="falling head", interval_length_m=length,
        hole_radius_m=hole, riser_radius_m=riser, top_m=10.0, bottom_m=13.0, static_depth_m=5.0,
        aquifer_top_m=10.0, aquifer_base_m=13.0, confined=True, elapsed_s=read,
        displacement_m=np.interp(read, time, head) + noise,
    )  # fmt: skip
    result = radial_storage.PLUGIN.run(test)
    skin = (1 / 0.2 - 1) * np.log(0.1 / hole)
    assert result.k_m_per_s == pytest.approx(k, rel=0.05)
    assert result.specific_storage_per_m is not None
    apparent = np.log10(result.specific_storage_per_m / (1e-5 * np.exp(-2 * skin)))
    assert abs(apparent) < 0.3
    assert result.grade == "qualified"
    assert any("skin" in words for words in result.notes)
