"""Pressure pulse in a shut-in interval: compressed water takes the place of a free surface."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.recovery import radial_modes
from geoprofile.hydraulics.situation import is_open_end, spans_aquifer
from geoprofile.hydraulics.storage import CurveMethod, by_curve
from geoprofile.hydraulics.synthetic import exponential_test, radial_recovery
from geoprofile.hydraulics.tests import Applicability, Conductivity, HydraulicTest
from geoprofile.hydraulics.water import GRAVITY, density
from geoprofile.plugins import Method

NAME = "pulse"
COMPRESSIBILITY_SD_LN = 0.15  # [-] of a measured system compressibility; common practice, no source
WATER = 4.6e-10  # [1/Pa] of water near 20 C, handbook value from memory


def equivalent_radius(test: HydraulicTest) -> float:
    """Radius of the pipe that would store as much water per metre of head.

    Parameters
    ----------
    test : HydraulicTest [-]
        Shut-in volume [m3], system compressibility [1/Pa], water temperature [C] (10 if unknown).

    Returns
    -------
    float [m]
        sqrt(Vw Cs rho g / pi).

    Raises
    ------
    DataError
        Volume or compressibility is missing or not above 0.
    """
    volume, soft = test.shut_in_volume_m3, test.system_compressibility_per_pa
    if not volume or not soft or volume <= 0 or soft <= 0:
        raise DataError(
            test.where,
            "no shut-in volume or no system compressibility",
            "both, above 0",
            "Give shut_in_volume_l and the compressibility measured on the set-up.",
        )
    rho = density(10.0 if test.water_temperature_c is None else test.water_temperature_c)
    return math.sqrt(volume * soft * rho * GRAVITY / math.pi)


def applies(test: HydraulicTest) -> Applicability:
    """Whether the interval was shut in and the set-up is known."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for pressure pulses, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval has no open wall")
    if not test.shut_in_volume_m3 or not test.system_compressibility_per_pa:
        reason = "the shut-in volume or the compressibility of the set-up is unknown"
        return Applicability(False, 0.0, reason)
    return Applicability(True, 0.90, "the interval is shut in, its compressibility known")


def run(test: HydraulicTest) -> Conductivity:
    """As with a free surface of radius rc, pi rc^2 = V C rho g; K and Ss fit the decay.

    Flow is radial only where the interval opens the whole aquifer, else that of a finite zone.

    Raises
    ------
    DataError
        Bad input, unknown set-up, or no fit.

    References
    ----------
    Bredehoeft and Papadopulos (1980), Water Resources Research 16(1), 233-238; Neuzil (1982), same
    journal 18(2), 439-441; from memory.
    """
    notes = ["K is proportional to the compressibility of packers, tubing and water together"]
    if (test.system_compressibility_per_pa or 0.0) <= 1.05 * WATER:
        notes.append("the compressibility given is that of water alone; real set-ups are softer")
    method = CurveMethod(
        NAME,
        radial_modes() if spans_aquifer(test) else modes_of(test),
        equivalent_radius(test),
        uses_riser=False,
        uses_kv=not spans_aquifer(test),
        surface_sd_ln=COMPRESSIBILITY_SD_LN,
        notes=tuple(notes),
    )
    return by_curve(test, method)


def example(k: float) -> HydraulicTest:
    """A clean pulse decay, Ss 1e-6 1/m, in a set-up three times as soft as water."""
    base = exponential_test(k, log_ratio=5.0)
    test = dataclasses.replace(
        base,
        kind="pressure pulse",
        riser_radius_m=None,
        shut_in_volume_m3=0.03,
        system_compressibility_per_pa=3 * WATER,
        confined=True,
        aquifer_top_m=base.top_m,
        aquifer_base_m=base.bottom_m,
    )
    length = test.interval_length_m
    radius = math.sqrt(0.03 * 3 * WATER * 999.7 * 9.80665 / math.pi)  # water at 10 C
    alpha = test.hole_radius_m**2 * 1e-6 * length / radius**2
    time = np.append(0.0, np.geomspace(0.003, 60.0, 119)) * radius**2 / (2.0 * length * k)
    head = radial_recovery(length * k * time[1:] / radius**2, alpha)
    return dataclasses.replace(test, elapsed_s=time, displacement_m=0.8 * np.append(1.0, head))


PLUGIN = Method(
    name=NAME,
    title="Pressure pulse, shut-in interval",
    kinds=("pressure pulse",),
    applies=applies,
    run=run,
    example=example,
    source="Bredehoeft and Papadopulos (1980), Neuzil (1982)",
)
