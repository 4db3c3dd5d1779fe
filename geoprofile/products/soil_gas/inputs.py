"""Soil gas in its own units: mass per volume of gas, and parts by volume where asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geoprofile.errors import UsageError
from geoprofile.products.model.inputs import Evidence, analyte_rows, evidence_from
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, PER_UG_PER_L, SOIL_GAS
from geoprofile.site import Site

GAS_CONSTANT = 8.314462618  # [J/mol/K] CODATA 2018
ZERO_CELSIUS = 273.15  # [K]


@dataclass(frozen=True)
class State:
    """What parts by volume rest on: temperature [degC] and pressure [kPa]."""

    temperature_c: float
    pressure_kpa: float

    def ppmv(self, ug_per_m3: float, molar_mass_g_per_mol: float) -> float:
        """Parts per million by volume of an ideal gas.

        Parameters
        ----------
        ug_per_m3 : float [ug/m3]
            Mass per volume.
        molar_mass_g_per_mol : float [g/mol]
            Of the substance.

        Returns
        -------
        float [1e-6]
            x = c R T / (M p).

        Examples
        --------
        3190 ug/m3 of benzene (78.11 g/mol) at 25 degC and 101.325 kPa are 1 ppmv.
        """
        kelvin = self.temperature_c + ZERO_CELSIUS
        litres = GAS_CONSTANT * kelvin / self.pressure_kpa  # of a mole
        return 1e-3 * ug_per_m3 * litres / molar_mass_g_per_mol


def molar_masses(entries: Sequence[str]) -> Mapping[str, float]:
    """Substances that are also told in parts by volume, from "benzene: 78.11".

    Parameters
    ----------
    entries : sequence of str
        Substance and molar mass [g/mol].

    Returns
    -------
    Mapping
        Substance to molar mass [g/mol].

    Raises
    ------
    UsageError
        An entry of another form.
    """
    found = {}
    for entry in entries:
        name, _, mass = str(entry).rpartition(":")
        try:
            value = float(mass)
        except ValueError:
            value = np.nan
        if not (name.strip() and 1.0 < value < 1000.0):
            raise UsageError(
                "site.toml [soil_gas] molar_masses",
                f"'{entry}'",
                "a substance and its molar mass in g/mol, such as 'benzene: 78.11'",
                "Correct the entry.",
            )
        found[name.strip()] = value
    return found


def gas_analytes(site: Site) -> list[str]:
    """Substances with a result in soil gas, by name."""
    table = site.table("concentration")
    return sorted({str(a) for a in table.loc[table["medium"] == SOIL_GAS, "analyte"]})


def gas_evidence(site: Site, analyte: str) -> Evidence:
    """The latest campaign of a substance in soil gas, ready for the engine.

    Parameters
    ----------
    site : Site
        Table concentration.
    analyte : str
        Which one.

    Returns
    -------
    Evidence
        From gas alone [log10 ug/m3].
    """
    rows = analyte_rows(site, analyte, medium=SOIL_GAS)
    shift = np.log10(PER_UG_PER_L)
    rows = rows.assign(value=rows["value"] + shift, upper=rows["upper"] + shift)
    return evidence_from(site, rows, analyte + IN_GAS, GAS_UNIT)
