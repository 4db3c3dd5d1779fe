"""One K of every method, worked by hand or from a printed table; see source.md."""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from geoprofile.hydraulics.tests import HydraulicTest, PressureStep
from geoprofile.plugins import registry

METHODS = registry.plugins("methods")
HAND_CLOSE = 5e-4  # four printed digits
# Cooper, Bredehoeft and Papadopulos (1967), table 1, columns alpha 1e-3 and 1e-1; from memory
PRINTED_BETA = np.array([0.01, 0.0215443, 0.0464159, 0.1, 0.215443, 0.464159, 1.0, 2.15443, 7.0])
PRINTED_1E3 = np.array([0.9853, 0.9744, 0.9545, 0.9183, 0.8538, 0.7436, 0.5729, 0.3543, 0.08519])
PRINTED_1E1 = np.array([0.9238, 0.886, 0.8293, 0.746, 0.6289, 0.4782, 0.3117, 0.1665, 0.04625])
# 2.15 and 4.64 of the table stand for 10^(1/3) and 10^(2/3)


def falling(lag_s: float, **changes: object) -> HydraulicTest:
    """A level that falls to 37 % within the lag, in a pipe of 50.8 mm."""
    time = np.linspace(0.0, 4.0 * lag_s, 81)
    facts: dict[str, object] = {
        "test": "1", "interval": "1", "borehole": "1", "kind": "falling head",
        "interval_length_m": 1.5, "hole_radius_m": 0.048, "riser_radius_m": 0.0254,
        "top_m": 30.0, "bottom_m": 31.5, "static_depth_m": 4.0, "elapsed_s": time,
        "displacement_m": 0.7 * np.exp(-time / lag_s), "expected_displacement_m": 0.7,
    }  # fmt: skip
    return HydraulicTest(**{**facts, **changes})  # type: ignore[arg-type]


def held(length: float, radius: float, **changes: object) -> HydraulicTest:
    """0.1 L/s at a net head of 20 m, and half of both."""
    facts: dict[str, object] = {
        "test": "1", "interval": "1", "borehole": "1", "kind": "constant head",
        "interval_length_m": length, "hole_radius_m": radius, "top_m": 40.0,
        "bottom_m": 40.0 + length, "static_depth_m": 4.0,
        "pressure_steps": tuple(
            PressureStep(step=i, flow_m3_per_s=0.5e-4 * i, net_head_m=10.0 * i, minutes=10.0)
            for i in (1, 2)
        ),
    }  # fmt: skip
    return HydraulicTest(**{**facts, **changes})  # type: ignore[arg-type]


def test_every_method_has_its_number_here() -> None:
    """A method that joins brings a K of its own to this file, or one from print beside it."""
    texts = [Path(__file__), *Path(__file__).parents[1].glob("pressure_steps/test_*.py")]
    text = "".join(p.read_text(encoding="utf-8") for p in texts)
    missing = [
        name for name in METHODS if f'METHODS["{name}"].run' not in text and f'"{name}"' not in text
    ]
    assert not missing


@pytest.mark.parametrize(("kv_kh", "k"), [(1.0, 7.404e-6), (0.1, 9.879e-6)])
def test_hvorslev(kv_kh: float, k: float) -> None:
    """K = rc^2 ln(x + sqrt(1 + x^2)) / (2 L T0), x = L / (2 rw) sqrt(Kh/Kv).

    x = 1.5/0.096 = 15.625, P = ln(31.282) = 3.4430, K = 6.4516e-4 x 3.4430 / 300 = 7.404e-6 m/s.
    With Kv/Kh 0.1: x = 49.411, P = ln(98.832) = 4.5934, K = 9.878e-6 m/s.
    """
    found = METHODS["hvorslev"].run(falling(100.0, kv_kh=kv_kh))
    assert found.k_m_per_s == pytest.approx(k, rel=HAND_CLOSE)


def test_hvorslev_open_end() -> None:
    """K = pi rc^2 / (2.75 D T0) = 2.0268e-3 / (2.75 x 0.096 x 100) = 7.677e-5 m/s."""
    test = falling(100.0, interval_length_m=0.0, bottom_m=30.0)
    found = METHODS["hvorslev-open-end"].run(test)
    assert found.k_m_per_s == pytest.approx(7.677e-5, rel=HAND_CLOSE)


def test_hvorslev_confining_layer() -> None:
    """K = rc^2 ln(x + sqrt(1 + x^2)) / (2 L T0), x = L / rw.

    x = 2/0.048 = 41.667, P = ln(83.345) = 4.4230, K = 6.4516e-4 x 4.4230 / 200 = 1.4268e-5 m/s.
    """
    test = falling(50.0, interval_length_m=2.0, bottom_m=32.0, confined=True, aquifer_top_m=30.0)
    found = METHODS["hvorslev-confining-layer"].run(test)
    assert found.k_m_per_s == pytest.approx(1.4268e-5, rel=HAND_CLOSE)


def test_bouwer_rice() -> None:
    """K = rc^2 P / (2 Le T0), 1/P = 1.1/ln(Lw/rw) + (A + 6 B)/(Le/rw), base far below.

    Le/rw = 62.5: A = 3.3885, B = 0.54858 (Van Rooy 1988, from memory). Lw/rw = 11/0.048 = 229.17,
    ln = 5.4345. 1/P = 0.20241 + 6.6800/62.5 = 0.30929, P = 3.2332.
    K = 6.4516e-4 x 3.2332 / (2 x 3 x 100) = 3.4766e-6 m/s.
    """
    test = falling(100.0, interval_length_m=3.0, top_m=12.0, bottom_m=15.0)
    found = METHODS["bouwer-rice"].run(test)
    assert found.k_m_per_s == pytest.approx(3.4766e-6, rel=HAND_CLOSE)


def test_moye() -> None:
    """K = Q (1 + ln(L/(2 rw))) / (2 pi L H).

    ln(5/0.076) = 4.1865; K = 1e-4 x 5.1865 / (2 pi x 5 x 20) = 5.1865e-4 / 628.32 = 8.2545e-7 m/s.
    """
    found = METHODS["moye"].run(held(5.0, 0.038))
    assert found.k_m_per_s == pytest.approx(8.2545e-7, rel=HAND_CLOSE)


def test_thiem() -> None:
    """K = Q ln(L/rw) / (2 pi L H) = 1e-4 x ln(131.58) / 628.32 = 4.8796e-4 / 628.32 = 7.7661e-7."""
    found = METHODS["thiem"].run(held(5.0, 0.038))
    assert found.k_m_per_s == pytest.approx(7.7661e-7, rel=HAND_CLOSE)


def test_steady_anisotropic() -> None:
    """K = Q P / (2 pi L H), P of a line with its mirror image in the water table, to 0.5 %.

    x = 3/0.048 = 62.5: asinh(x) - sqrt(1 + 1/x^2) + 1/x = 4.8284 - 1.0001 + 0.0160 = 3.8443 for
    even flow, 0.985 of it for one head along the hole; the image, 2 x 37.5 m away, takes off
    3/(2 x 75) = 0.020. P = 3.767; K = 3.767e-4 / (2 pi x 3 x 20) = 9.992e-7 m/s.
    """
    found = METHODS["steady-anisotropic"].run(held(3.0, 0.048))
    assert found.k_m_per_s == pytest.approx(9.992e-7, rel=5e-3)


def test_radial_storage() -> None:
    """The printed curve of alpha 1e-3 played at T = 5.3e-4 m2/s, rc = rw = 76 mm, over 98 m.

    t = beta rc^2 / T; K = 5.3e-4 / 98 = 5.408e-6 m/s, within 1 % for the four printed digits.
    """
    time = PRINTED_BETA * 0.076**2 / 5.3e-4
    test = falling(
        1.0, isolation="open hole", interval_length_m=98.0, hole_radius_m=0.076,
        riser_radius_m=0.076, top_m=24.0, bottom_m=122.0, confined=True, aquifer_top_m=24.0,
        aquifer_base_m=122.0, elapsed_s=np.append(0.0, time),
        displacement_m=0.56 * np.append(1.0, PRINTED_1E3), expected_displacement_m=0.56,
    )  # fmt: skip
    found = METHODS["radial-storage"].run(test)
    assert found.k_m_per_s == pytest.approx(5.408e-6, rel=0.01)


def test_pulse() -> None:
    """The printed curve of alpha 0.1 with compressed water in place of the free surface,
    in a zone as thick as the layer.

    pi rc^2 = V C rho g = 0.03 x 1.38e-9 x 999.7 x 9.80665 = 4.0587e-7 m2, rc^2 = 1.2919e-7 m2.
    t = beta rc^2 / (K L) with K = 2e-10 m/s and L = 3 m, within 1 % for the four printed digits.
    """
    time = PRINTED_BETA * 1.2919e-7 / (2e-10 * 3.0)
    test = falling(
        1.0, kind="pressure pulse", interval_length_m=3.0, bottom_m=33.0, riser_radius_m=None,
        confined=True, aquifer_top_m=30.0, aquifer_base_m=33.0,
        shut_in_volume_m3=0.03, system_compressibility_per_pa=1.38e-9, water_temperature_c=10.0,
        elapsed_s=np.append(0.0, time), displacement_m=40.0 * np.append(1.0, PRINTED_1E1),
        expected_displacement_m=40.0,
    )  # fmt: skip
    found = METHODS["pulse"].run(test)
    assert found.k_m_per_s == pytest.approx(2e-10, rel=0.01)


def test_underdamped() -> None:
    """A column of 5 m in a pipe of 50 mm on 3 m of hole, K = 1e-3 m/s, to 2 %.

    w = sqrt(9.80665/5) = 1.4005 1/s. lag = rc^2/(2 L K) = 0.10417 s. Friction 8 nu Lc/(g rc^2) =
    0.00853 s. P = 3.760 (as `steady-anisotropic`, image 2 x 27.5 m away), 1/P grows by
    1 + a sqrt(p Ss/K), a = L/(2 P) = 0.399 m, Ss = 1e-5 1/m: the ground answers as a sphere.
    p^2/w^2 + p (friction + lag P(p)) + 1 = 0 gives p = -0.3775 + 1.3340i 1/s after a few rounds, so
    |p| = 1.3864 1/s and CD = -2 Re p / |p| = 0.5446.
    """
    rate, damping = 1.3864, 0.5446
    half = damping / 2.0
    turn = math.sqrt(1.0 - half**2)
    time = np.linspace(0.0, 14.0, 300)
    level = np.exp(-half * rate * time) * (
        np.cos(turn * rate * time) + half / turn * np.sin(turn * rate * time)
    )
    test = falling(
        1.0, interval_length_m=3.0, bottom_m=33.0, riser_radius_m=0.025, water_column_m=5.0,
        elapsed_s=time, displacement_m=0.7 * level,
    )  # fmt: skip
    found = METHODS["underdamped"].run(test)
    assert found.k_m_per_s == pytest.approx(1e-3, rel=0.02)


def load_forward() -> ModuleType:
    """The finite-volume model kept beside the calibration: it shares no code with the package."""
    path = Path(__file__).parents[2] / "calibration" / "forward.py"
    spec = importlib.util.spec_from_file_location("well_forward", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["well_forward"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("kv_kh", [1.0, 0.2])
def test_partial_penetration(kv_kh: float) -> None:
    """Finite volumes of a 2 m interval 8 m under a water table, K = 1e-5 m/s, Ss = 1e-5, to 3 %."""
    forward = load_forward()
    area = math.pi * 0.0254**2
    ground = forward.Ground(2.0, 0.048, 1e-5, kv_kh, 1e-5, 8.0, 20.0, True, area)
    time, head = forward.recovery(ground, 400.0, one_head=True, reach=60.0)
    seconds = np.linspace(0.0, 350.0, 80)
    test = falling(
        1.0, interval_length_m=2.0, top_m=12.0, bottom_m=14.0, kv_kh=kv_kh, confined=False,
        elapsed_s=seconds, displacement_m=0.7 * np.interp(seconds, time, head),
    )  # fmt: skip
    found = METHODS["partial-penetration"].run(test)
    assert found.k_m_per_s == pytest.approx(1e-5, rel=0.03)
