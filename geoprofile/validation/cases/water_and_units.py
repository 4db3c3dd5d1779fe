"""Properties of water, conversions at the border, and gas."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geoprofile import units
from geoprofile.hydraulics import water
from geoprofile.intake.gases import mass_per_volume
from geoprofile.places import longitude_latitude
from geoprofile.validation.case import Case, Second

PERRY_K = (280.0, 290.0, 300.0, 310.0)
PERRY_UPAS = (1433.7, 1084.0, 853.84, 693.54)
# header suffixes and what one of the first is in the second, exactly as defined
CONVERSIONS = (
    ("ft", "m", 0.3048), ("usft", "m", 1200 / 3937), ("in", "mm", 25.4), ("yd", "m", 0.9144),
    ("psi", "kpa", 6.894757293168), ("bar", "kpa", 100.0), ("mh2o", "kpa", 9.80665),
    ("inhg", "kpa", 3.386389), ("usgal", "l", 3.785411784), ("impgal", "l", 4.54609),
    ("usgal_min", "l_min", 3.785411784), ("l_s", "l_min", 60.0), ("m3_h", "l_min", 1000 / 60),
    ("h", "s", 3600.0), ("d", "s", 86400.0), ("cm_per_s", "m_per_s", 0.01),
    ("m_per_d", "m_per_s", 1 / 86400), ("ft_per_d", "m_per_s", 0.3048 / 86400),
    ("gon", "deg", 0.9), ("per_psi", "per_pa", 1 / 6894.757293168),
)  # fmt: skip
CONCENTRATIONS = (("mg/L", 1e3), ("ng/L", 1e-3), ("ug/m3", 1e-3), ("mg/m3", 1.0), ("g/L", 1e6))


def _kell() -> list[float]:
    """Density of water by Kell (1975), Journal of Chemical and Engineering Data 20, from memory."""
    found = []
    for t in (10.0, 20.0, 25.0):
        top = 999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3
        top += 105.56302e-9 * t**4 - 280.54253e-12 * t**5
        found.append(top / (1 + 16.879850e-3 * t))
    return found


def _kestin() -> list[float]:
    """Viscosity by Kestin, Sokolov and Wakeham (1978), from memory, in mPa s."""
    found = []
    for t in (10.0, 20.0, 25.0):
        d = 20.0 - t
        power = d / (t + 96) * (1.2364 - 1.37e-3 * d + 5.7e-6 * d**2)
        found.append(1.002 * 10**power)
    return found


def _utm() -> list[float]:
    """Easting and northing 500000, 5300000 in zone 32: the meridian arc by its series, WGS 84."""
    a, f = 6378137.0, 1 / 298.257223563
    e2 = f * (2 - f)
    arc, phi = 5300000.0 / 0.9996, 0.8
    points, weights = np.polynomial.legendre.leggauss(60)
    for _ in range(20):
        s = phi * (points + 1) / 2
        length = float(weights @ (a * (1 - e2) / (1 - e2 * np.sin(s) ** 2) ** 1.5)) * phi / 2
        phi -= (length - arc) / (a * (1 - e2) / (1 - e2 * np.sin(phi) ** 2) ** 1.5)
    return [9.0, float(np.degrees(phi))]


CASES = (
    Case(
        "viscosity-perry", "water", "Viscosity of saturated water, 280 to 310 K",
        "Perry's Chemical Engineers' Handbook, 9th edition, table 2-135", "seen", PERRY_UPAS,
        lambda: [1e6 * water.viscosity(k - 273.15) for k in PERRY_K], "uPa s", relative=4e-4,
        labels=tuple(f"{k:g} K" for k in PERRY_K), how="water.viscosity",
        because="two formulations differ so much",
    ),
    Case(
        "viscosity-handbook", "water", "Viscosity at 10, 20 and 25 C", "IAPWS SR6-08 (2011)",
        "from memory", (1.3059, 1.0016, 0.8900),
        lambda: [1e3 * water.viscosity(t) for t in (10, 20, 25)], "mPa s", relative=1e-4,
        labels=("10 C", "20 C", "25 C"), how="water.viscosity", because="four or five digits",
        second=Second("Kestin, Sokolov and Wakeham (1978)", _kestin, 1.5e-3),
    ),
    Case(
        "density", "water", "Density at 10, 20 and 25 C", "Tanaka et al. (2001), Metrologia 38",
        "from memory", (999.703, 998.207, 997.047),
        lambda: [water.density(t) for t in (10, 20, 25)], "kg/m3", relative=6e-7,
        labels=("10 C", "20 C", "25 C"), how="water.density", because="printed to the gram",
        second=Second("Kell (1975)", _kell, 5e-6),
    ),
    Case(
        "k-with-warmth", "water", "K at 20 C over K at 10 C", "From the two properties above",
        "derived", (1.30191,), lambda: [water.conductivity_at(1.0, 10.0, 20.0)], relative=1e-4,
        how="water.conductivity_at", because="four or five digits",
        second=Second(
            "the printed values divided", lambda: [1.3059 / 1.0016 * 998.207 / 999.703], 1.5e-4
        ),
    ),
    Case(
        "permeability", "water", "Permeability of 1e-5 m/s at 10 C", "k = K mu / (rho g)",
        "derived", (1.33204e-12,), lambda: [water.permeability(1e-5, 10.0)], "m2", relative=1e-4,
        how="water.permeability", because="four or five digits",
        second=Second(
            "by hand", lambda: [1e-5 * 1.3059e-3 / (999.703 * 9.80665)], 1.5e-4
        ),
    ),
    Case(
        "water-out-of-range", "water", "Viscosity and density at -21 and 120 C are refused",
        "Ranges of the two formulations", "derived", (1.0,) * 4,
        lambda: [_refused(f, t) for f in (water.viscosity, water.density) for t in (-21.0, 120.0)],
        labels=tuple(
            f"{what} at {t} C refused" for what in ("viscosity", "density") for t in (-21, 120)
        ),
        how="water.viscosity and density",
    ),
    Case(
        "darcy", "water", "1 darcy is 9.64e-6 m/s at 20 C", "Handbook value", "from memory",
        (9.869233e-13,), lambda: [water.permeability(9.64e-6, 20.0)], "m2", relative=2e-3,
        how="water.permeability", because="three digits",
        second=Second(
            "k mu / (rho g) by hand", lambda: [9.64e-6 * 1.0016e-3 / (998.207 * 9.80665)], 2e-3
        ),
    ),
    Case(
        "conversions", "units", f"{len(CONVERSIONS)} conversions of headings",
        "International yard and pound agreement (1959); SI brochure; NIST SP 811", "from memory",
        tuple(v for _, _, v in CONVERSIONS),
        lambda: [float(units.convert([1.0], a, b)[0]) for a, b, _ in CONVERSIONS],
        relative=1e-6, labels=tuple(f"{a} in {b}" for a, b, _ in CONVERSIONS),
        how="units.convert", because="seven digits of inches of mercury",
        second=Second(
            "definitions by hand: pound 0.45359237 kg, inch 25.4 mm, g 9.80665",
            lambda: [_by_definition(a, b, v) for a, b, v in CONVERSIONS], 1e-5,
        ),
    ),
    Case(
        "fahrenheit", "units", "50 F in C, 283.15 K in C", "Definitions", "derived", (10.0, 10.0),
        lambda: [float(units.convert([v], u, "c")[0]) for v, u in ((50.0, "f"), (283.15, "k"))],
        "C", relative=1e-9, labels=("50 F", "283.15 K"), how="units.convert",
    ),
    Case(
        "concentration-units", "concentration", "One of each unit in ug/L", "SI prefixes",
        "derived", tuple(v for _, v in CONCENTRATIONS),
        lambda: [units.to_ug_per_l(1.0, u) for u, _ in CONCENTRATIONS], "ug/L", relative=1e-12,
        labels=tuple(u for u, _ in CONCENTRATIONS), how="units.to_ug_per_l",
    ),
    Case(
        "gas-volume", "concentration", "1 ppmv of benzene at 25 C and 101.325 kPa",
        "Ideal gas, molar volume 24.465 L (NIOSH pocket guide)", "from memory", (3.19,),
        lambda: mass_per_volume([1.0], [78.11], [25.0], [101.325]), "mg/m3", relative=2e-3,
        how="intake.gases.mass_per_volume", because="three digits",
        second=Second("78.11 / 24.465", lambda: [78.11 / 24.465], 2e-3),
    ),
    Case(
        "utm-meridian", "places", "Longitude and latitude of 500 000, 5 300 000 in UTM zone 32",
        "Meridian arc of WGS 84 by quadrature, scale 0.9996", "derived", tuple(_utm()),
        lambda: [
            float(v or 0.0) for v in longitude_latitude([500000.0], [5300000.0], "EPSG:32632")[0]
        ],
        "deg", absolute=1.1e-6, labels=("longitude", "latitude"), how="places.longitude_latitude",
        because="0.1 m on the ground",
    ),
)  # fmt: skip


def _refused(function: Callable[[float], float], celsius: float) -> float:
    """1 if there is no answer outside the range."""
    try:
        function(celsius)
    except ValueError as error:
        return float("outside" in str(error))
    return 0.0


def _by_definition(a: str, b: str, value: float) -> float:
    """Pressures and volumes from mass, length and gravity; the rest is exact as it stands."""
    psi = 0.45359237 * 9.80665 / 0.0254**2
    gallon = 231 * 0.254**3
    made = {
        ("psi", "kpa"): psi / 1e3,
        ("per_psi", "per_pa"): 1 / psi,
        ("usgal", "l"): gallon,
        ("usgal_min", "l_min"): gallon,
        ("inhg", "kpa"): 0.0254 * 13595.1 * 9.80665 / 1e3,
        ("mh2o", "kpa"): 1000 * 9.80665 / 1e3,
    }
    return made.get((a, b), value)
