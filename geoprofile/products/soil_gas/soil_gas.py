"""Soil gas between boreholes: a model from gas alone, mapped at depths above the water level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile import kriging
from geoprofile.engine.rows import finding, frame, joined, number
from geoprofile.errors import DataError
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.maps.blanks import Limits
from geoprofile.products.model.inputs import FEWEST_DETECTED, Evidence
from geoprofile.products.soil_gas.fitted import fit_gas
from geoprofile.products.soil_gas.inputs import (
    State,
    gas_analytes,
    gas_evidence,
    molar_masses,
)
from geoprofile.products.soil_gas.mapping import GasField, depths_of, maps_of
from geoprofile.schema.soil_gas import PER_UG_PER_L, SOIL_GAS
from geoprofile.site import Site, records_of

if TYPE_CHECKING:
    import pandas as pd

FEWEST_BOREHOLES = 3  # fewer span no map


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Values of soil gas in its units, and maps of each substance where holes and water allow.

    Returns
    -------
    Mapping
        Tables `soil_gas`, `soil_gas_model`, `soil_gas_band`, `soil_gas_blank`; findings on
        substances that allow no map.

    Notes
    -----
    log10 of the latest campaign of gas is kriged in three dimensions with one level for all places
    as its mean, each interval over its length; no result of water enters. Diffusion from the water
    is not modelled: a map is an interpolation of what was measured in gas.
    """
    findings: list[dict[str, str]] = []
    models: list[dict[str, Any]] = []
    bands: list[dict[str, Any]] = []
    blanks: list[dict[str, Any]] = []
    names = gas_analytes(site)
    criteria = criteria_ug_per_l(site, SOIL_GAS)
    limits = Limits(float(settings["farthest_m"]), float(settings["most_sd"]))
    for done, analyte in enumerate(names, start=1):
        try:
            field, row = _fitted(site, analyte, int(settings["seed"]), criteria.get(analyte))
        except DataError as error:
            findings.append(_refused(analyte, error))
        else:
            models.append(row)
            if row["shown_as"] == "map":
                depths = depths_of(site, field, settings["depths_m"])
                made = maps_of(site, field, depths, limits, float(settings["cell_m"]))
                bands += made[0]
                blanks += made[1]
            else:
                findings.append(_values_only(field.quantity))
        progress(done, len(names))
    return {
        "soil_gas": frame("soil_gas", _values(site, settings), site.crs),
        "soil_gas_model": frame("soil_gas_model", models, site.crs),
        "soil_gas_band": frame("soil_gas_band", bands, site.crs),
        "soil_gas_blank": frame("soil_gas_blank", blanks, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def _values(site: Site, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Every result of gas in ug/m3, and in ppmv where its molar mass is told."""
    masses = molar_masses(settings["molar_masses"])
    state = State(float(settings["temperature_c"]), float(settings["pressure_kpa"]))
    table = site.table("concentration")
    same = ("interval", "borehole", "top_m", "bottom_m", "analyte", "round", "sampled_at")
    rows = []
    for row in records_of(table[table["medium"] == SOIL_GAS]):
        value, limit = _per_m3(row["value_ug_per_l"]), _per_m3(row["limit_ug_per_l"])
        mass = masses.get(str(row["analyte"]))
        parts = {} if mass is None else _parts(value, limit, mass, state)
        rest = {c: row[c] for c in ("detected", "sd_log10", "exceeds", "notes", "geometry")}
        rows.append(
            {
                **{c: row[c] for c in same},
                "value_ug_per_m3": value,
                "limit_ug_per_m3": limit,
                **parts,
                **rest,
            }
        )
    return rows


def _parts(
    value: float | None, limit: float | None, mass: float, state: State
) -> dict[str, float | None]:
    """Parts by volume, with what they rest on."""
    return {
        "value_ppmv": None if value is None else state.ppmv(value, mass),
        "limit_ppmv": None if limit is None else state.ppmv(limit, mass),
        "molar_mass_g_per_mol": mass,
        "temperature_c": state.temperature_c,
        "pressure_kpa": state.pressure_kpa,
    }


def _per_m3(ug_per_l: Any) -> float | None:
    known = number(ug_per_l)
    return None if known is None else PER_UG_PER_L * known


def _fitted(
    site: Site, analyte: str, seed: int, criterion_ug_per_l: float | None
) -> tuple[GasField, dict[str, Any]]:
    """The model of a substance in gas, and its score at held-out boreholes."""
    _refuse_few(gas_evidence(site, analyte))
    field = fit_gas(site, analyte, seed, criterion_ug_per_l)
    evidence, model = field.evidence, field.model
    score = kriging.cross_validate(model)
    fitted, left_out = model.parameters, score.residual[np.isfinite(score.residual)]
    row = {
        "quantity": evidence.quantity,
        "round": evidence.round,
        "unit": evidence.unit,
        "data_count": len(evidence.intervals),
        "nondetect_count": evidence.nondetects,
        "borehole_count": len(set(evidence.boreholes)),
        "length_along_m": fitted.length_along_m,
        "length_across_m": fitted.length_across_m,
        "length_vertical_m": fitted.length_vertical_m,
        "rmse_log10": float(np.sqrt(np.mean(left_out**2))) if len(left_out) else None,
        "coverage_80": _finite(score.coverage_80),
        "log_score": _finite(score.log_score),
        "log_score_constant": _finite(score.log_score_constant),
        "shown_as": "map" if score.structure else "values",
        "warnings": joined(model.warnings),
    }
    return field, row


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _refuse_few(evidence: Evidence) -> None:
    """Few holes or few detections are values at places, not a map."""
    holes = len(set(evidence.boreholes))
    seen = len(evidence.intervals) - evidence.nondetects
    if holes < FEWEST_BOREHOLES:
        found, expected = f"results in {holes} borehole(s)", f"at least {FEWEST_BOREHOLES}"
    elif seen < FEWEST_DETECTED:
        found = f"{seen} detected of {len(evidence.intervals)} intervals"
        expected = f"at least {FEWEST_DETECTED} detected"
    else:
        return
    raise DataError("soil gas", found, expected, "Report the values at their places.")


def _refused(analyte: str, error: DataError) -> dict[str, str]:
    problem = error.problem
    return finding(
        "soil_gas",
        analyte,
        f"no map of {analyte} in soil gas: found {problem.found}, expected {problem.expected}",
        what_to_do=problem.advice,
        severity="note",
    )


def _values_only(quantity: str) -> dict[str, str]:
    return finding(
        "soil_gas",
        quantity,
        f"no map of {quantity}: from the other boreholes its results are predicted no better than "
        "by one level for all places",
        what_to_do="Rely on the measured intervals; sample between them before a map is drawn.",
    )


PLUGIN = Layer(
    name="soil_gas",
    summary="soil gas in its own units, a model of it alone, maps above the water level",
    reads=("borehole", "survey", "interval", "concentration", "criterion", "head", "area"),
    writes=("soil_gas", "soil_gas_model", "soil_gas_band", "soil_gas_blank"),
    compute=compute,
    settings=(
        Setting(
            "depths_m",
            [],
            "m",
            "Depths of the maps below ground; none: up to three at which gas was sampled",
        ),
        Setting(
            "molar_masses",
            [],
            "",
            'Substances told in ppmv too, with their molar mass in g/mol: "benzene: 78.11"',
        ),
        Setting(
            "temperature_c",
            25.0,
            "degC",
            "Temperature that parts by volume refer to",
            low=-50,
            high=100,
        ),
        Setting(
            "pressure_kpa",
            101.325,
            "kPa",
            "Pressure that parts by volume refer to",
            low=50,
            high=120,
        ),
        Setting(
            "most_sd",
            1.0,
            "1",
            "Blank where the standard deviation of log10 is larger: 1 is a factor of ten; 0: no "
            "limit",
            low=0,
        ),
        Setting(
            "farthest_m",
            0.0,
            "m",
            "Blank farther than this from the nearest interval with gas; 0: no limit",
            low=0,
        ),
        Setting("cell_m", 0.0, "m", "Width of a grid cell; 0: from the extent", low=0),
        Setting("seed", 20260101, "1", "Seed of everything drawn at random", low=0),
    ),
)
