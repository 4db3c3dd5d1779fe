"""K from recoveries: the printed table, one K of every method, and bias that is known."""

from __future__ import annotations

import math

import numpy as np

from geoprofile.hydraulics.recovery import radial_modes, recovery
from geoprofile.hydraulics.tests import HydraulicTest
from geoprofile.plugins.registry import plugin
from geoprofile.validation.case import Array, Case, Second
from geoprofile.validation.cases.inversion import recovery_by_integral
from geoprofile.validation.cases.recovery_table import ABSOLUTE, RELATIVE, beta_of, printed

TABLE_1 = "Cooper, Bredehoeft and Papadopulos (1967), Water Resources Research 3(1), table 1"
HVORSLEV = "Hvorslev (1951), WES Bulletin 36"
HAND = 5e-4  # four digits worked by hand
SECONDS = np.arange(3.0, 64.0, 3.0)
# Cooper, Bredehoeft and Papadopulos (1967): the well at Dawsonville, Georgia; H in m
DAWSONVILLE = np.array(
    [0.457, 0.392, 0.345, 0.308, 0.280, 0.252, 0.224, 0.205, 0.187, 0.168, 0.149, 0.140, 0.131,
     0.112, 0.108, 0.093, 0.089, 0.082, 0.075, 0.071, 0.065]
)  # fmt: skip


def recoveries(*, misprints: bool) -> Array:
    """Ours, at the places of the printed table; tau is 2 beta."""
    return np.array(
        [
            float(recovery(np.array([2 * beta_of(b)]), a, radial_modes())[0])
            for a, b, _ in printed(misprints=misprints)
        ]
    )


def _integrals(*, misprints: bool) -> list[float]:
    return [recovery_by_integral(a, beta_of(b)) for a, b, _ in printed(misprints=misprints)]


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


def k_by(method: str, test: HydraulicTest) -> list[float]:
    """K of one method [m/s]."""
    return [float(plugin("methods", method).run(test).k_m_per_s)]


def _oscillating() -> HydraulicTest:
    """A column of 5 m in a pipe of 50 mm on 3 m of hole, K = 1e-3 m/s.

    w = sqrt(9.80665/5) = 1.4005 1/s. lag = rc^2/(2 L K) = 0.10417 s. Friction 8 nu Lc/(g rc^2) =
    0.00853 s. P = 3.760 (as `steady-anisotropic`, image 2 x 27.5 m away), 1/P grows by
    1 + a sqrt(p Ss/K), a = L/(2 P) = 0.399 m, Ss = 1e-5 1/m: the ground answers as a sphere.
    p^2/w^2 + p (friction + lag P(p)) + 1 = 0 gives p = -0.3775 + 1.3340i 1/s after a few rounds, so
    |p| = 1.3864 1/s and CD = -2 Re p / |p| = 0.5446.
    """
    rate, half = 1.3864, 0.5446 / 2.0
    turn = math.sqrt(1.0 - half**2)
    time = np.linspace(0.0, 14.0, 300)
    level = np.exp(-half * rate * time) * (
        np.cos(turn * rate * time) + half / turn * np.sin(turn * rate * time)
    )
    return falling(
        1.0, interval_length_m=3.0, bottom_m=33.0, riser_radius_m=0.025, water_column_m=5.0,
        elapsed_s=time, displacement_m=0.7 * level,
    )  # fmt: skip


def _pulse() -> HydraulicTest:
    """Column alpha 0.1 of the printed table, played with compressed water as the store.

    pi rc^2 = V C rho g = 0.03 x 1.38e-9 x 999.7 x 9.80665 = 4.0587e-7 m2, rc^2 = 1.2919e-7 m2;
    t = beta rc^2 / (K L) with K = 2e-10 m/s and L = 3 m, a zone as thick as the layer.
    """
    rows = [(beta_of(b), h) for a, b, h in printed() if a == 1e-1 and 0.009 < b < 8 and b != 4.64]
    time = np.array([b for b, _ in rows]) * 1.2919e-7 / (2e-10 * 3.0)
    return falling(
        1.0, kind="pressure pulse", interval_length_m=3.0, bottom_m=33.0, riser_radius_m=None,
        confined=True, aquifer_top_m=30.0, aquifer_base_m=33.0,
        shut_in_volume_m3=0.03, system_compressibility_per_pa=1.38e-9, water_temperature_c=10.0,
        elapsed_s=np.append(0.0, time),
        displacement_m=40.0 * np.append(1.0, [h for _, h in rows]), expected_displacement_m=40.0,
    )  # fmt: skip


CASES = (
    Case(
        "recovery-table", "k-recovery", "Recovery of a well with storage, 103 values", TABLE_1,
        "from memory", tuple(v for _, _, v in printed()), lambda: recoveries(misprints=False),
        relative=RELATIVE, absolute=ABSOLUTE, how="recovery with radial_modes",
        because="the table was integrated by hand",
        labels=tuple(f"alpha {a:g}, beta {b:g}" for a, b, _ in printed()),
        second=Second(
            "Bessel integral of Carslaw and Jaeger (1959)", lambda: _integrals(misprints=False),
            4e-3,
        ),
    ),
    Case(
        "recovery-misprints", "k-recovery", "The same table, the two entries taken as misprints",
        TABLE_1, "from memory", tuple(v for _, _, v in printed(misprints=True)),
        lambda: recoveries(misprints=True), relative=RELATIVE, how="recovery with radial_modes",
        labels=tuple(f"alpha {a:g}, beta {b:g}" for a, b, _ in printed(misprints=True)),
        known_miss="printed 0.1554 and 0.01999; three ways of computing give 0.15505 and 0.01979",
        miss_relative=0.0105,
        second=Second(
            "Bessel integral of Carslaw and Jaeger (1959)", lambda: _integrals(misprints=True),
            0.011,
        ),
    ),
    Case(
        "recovery-misprints-computed", "k-recovery", "The two entries as they should be printed",
        "Own computation with 50 digits", "derived", (0.15505, 0.01979),
        lambda: recoveries(misprints=True), absolute=6e-6, how="recovery with radial_modes",
        labels=tuple(f"alpha {a:g}, beta {b:g}" for a, b, _ in printed(misprints=True)),
        because="kept to five decimals",
        second=Second(
            "Bessel integral of Carslaw and Jaeger (1959)", lambda: _integrals(misprints=True), 5e-4
        ),
    ),
    Case(
        "pulse", "k-recovery", "Pressure pulse in a shut-in zone, K 2e-10 m/s",
        TABLE_1 + ", with compressed water as the store, worked by hand", "from memory",
        (2e-10,), lambda: k_by("pulse", _pulse()), "m/s", relative=0.01, how="method pulse",
        because="four printed digits",
        second=Second(
            "rc^2 = V C rho g / pi, T t / rc^2 by hand", lambda: [_pulse_by_hand()], 2e-3
        ),
    ),
    Case(
        "underdamped", "k-recovery", "Column of 5 m that swings, K 1e-3 m/s",
        "Damped column on ground that answers as a sphere, worked by hand", "derived", (1e-3,),
        lambda: k_by("underdamped", _oscillating()), "m/s", relative=0.02,
        how="method underdamped", because="the ground is taken as a sphere",
    ),
)  # fmt: skip


def _pulse_by_hand() -> float:
    """K from the time at which the printed curve passes 0.3117 (beta 1)."""
    store = 0.03 * 1.38e-9 * 999.7 * 9.80665 / math.pi
    test = _pulse()
    share = test.displacement_m / 40.0
    time = float(np.interp(-0.3117, -share, test.elapsed_s))
    return store / (3.0 * time)
