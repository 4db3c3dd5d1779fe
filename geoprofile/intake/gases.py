"""Soil gas reported as parts per volume, as mass per volume: with molar mass and state stated."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from geoprofile.errors import Problem
from geoprofile.intake.checks import where
from geoprofile.intake.depths import lookup
from geoprofile.intake.inputs import GAS_COLUMNS
from geoprofile.intake.problems import tell
from geoprofile.intake.results import PARTS

GAS_CONSTANT = 8.314462618  # [J/mol/K] CODATA 2018
ZERO_CELSIUS = 273.15  # [K]
NEEDED = tuple(c.name for c in GAS_COLUMNS)
UNIT = "mg/m3"


def mass_per_volume(
    ppmv: ArrayLike, molar_mass: ArrayLike, temperature: ArrayLike, pressure: ArrayLike
) -> NDArray[np.float64]:
    """Concentration of a gas from its parts per million by volume.

    Parameters
    ----------
    ppmv : array_like, shape (n,) [1e-6]
        Volume (mole) fraction.
    molar_mass : array_like, shape (n,) [g/mol]
        Of the substance.
    temperature : array_like, shape (n,) [degC]
        To which the laboratory refers the volume.
    pressure : array_like, shape (n,) [kPa]
        The same.

    Returns
    -------
    Array, shape (n,) [mg/m3]
        Mass per volume of gas.

    Notes
    -----
    Ideal gas: c = x M p / (R T). At 25 degC and 101.325 kPa a mole takes 24.465 L.

    Examples
    --------
    1 ppmv of benzene (78.11 g/mol) at 25 degC and 101.325 kPa is 3.19 mg/m3.
    """
    kelvin = np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    moles_per_m3 = 1000.0 * np.asarray(pressure, dtype=float) / (GAS_CONSTANT * kelvin)
    return np.asarray(1e-3 * np.asarray(ppmv) * np.asarray(molar_mass) * moles_per_m3)


def convert_parts(
    results: pd.DataFrame, samples: pd.DataFrame, problems: list[Problem]
) -> pd.DataFrame:
    """Results in ppmv or ppbv as mass per volume, and without the columns needed for that."""
    parts = results["unit"].isin(PARTS).to_numpy()
    bare = results.drop(columns=list(NEEDED))
    if not parts.any():
        return bare
    medium = lookup(results["sample"], samples, "sample", "medium").to_numpy()
    rows = [int(i) for i in np.flatnonzero(parts)]
    _tell(results, [i for i in rows if medium[i] == "water"], problems)
    state = {n: results[n].to_numpy(dtype=float) for n in NEEDED}
    lacking = [i for i in rows if not all(np.isfinite(state[n][i]) for n in NEEDED)]
    tell(
        problems,
        lacking,
        lambda i: where(results, i, "unit"),
        lambda i: (
            f"{results['unit'].iloc[i]} without "
            f"{', '.join(n for n in NEEDED if not np.isfinite(state[n][i]))}",
            "the molar mass of the substance, and temperature and pressure of the volume",
            "Fill these columns from the laboratory's report (constants in its profile will do), "
            "or ask for the result in ug/m3.",
        ),
    )
    scale = results["unit"].map(PARTS).to_numpy(dtype=float)
    factor = np.where(parts, mass_per_volume(scale, *(state[n] for n in NEEDED)), 1.0)
    return bare.assign(
        value=results["value"].to_numpy(dtype=float) * factor,
        limit=results["limit"].to_numpy(dtype=float) * factor,
        unit=results["unit"].where(~parts, UNIT),
    )


def _tell(results: pd.DataFrame, rows: list[int], problems: list[Problem]) -> None:
    tell(
        problems,
        rows,
        lambda i: where(results, i, "unit"),
        lambda i: (
            f"{results['unit'].iloc[i]} in a water sample",
            "parts by volume for soil gas only",
            "Correct medium of the sample to soil gas, or the unit of the result.",
        ),
    )
