"""The fitted model of each quantity, with its score at boreholes it has not seen."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile import kriging
from geoprofile.budget import afford_data
from geoprofile.engine.rows import finding, frame, joined, number
from geoprofile.errors import DataError
from geoprofile.plugins import Layer, Progress, Setting
from geoprofile.products.concentration.inputs import rounds_in_order
from geoprofile.products.model.held_out import held_out_rows
from geoprofile.products.model.inputs import FEWEST_DETECTED, Evidence, K, evidence_of
from geoprofile.products.units.inputs import UnitSurfaces, unit_surfaces
from geoprofile.remembered import Content, Form, of_records, remembered
from geoprofile.site import Site
from geoprofile.workers import each, has_workers

UNKNOWN_DIRECTION_DEG = 60.0  # [deg] spread of a direction nobody measured
Score: TypeAlias = tuple[Evidence, kriging.CrossValidation]
LEAST_SPREAD_DEG = 10.0  # [deg] the ground need not follow the heads more closely than that


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """Fit and cross-validate a field of log10 K and of each analyte.

    Returns
    -------
    Mapping
        Tables `model` and `held_out`; a finding for every quantity that allows no field, and for
        every warning.
    """
    wanted = quantities(site, str(settings["rounds"]))
    rows: list[dict[str, Any]] = []
    held_out: list[dict[str, Any]] = []
    findings = _no_units(site, str(settings["geology"]))
    common = site, settings
    fields = (
        each(field_or_reason, common, wanted)
        if has_workers()
        else map(partial(field_or_reason, common), wanted)
    )
    for done, ((quantity, round_name), found) in enumerate(
        zip(wanted, fields, strict=True), start=1
    ):
        label = quantity if round_name is None else f"{quantity} {round_name}"
        if isinstance(found, DataError):
            findings.append(_refused(label, found))
        else:
            row, score = found
            rows.append(row)
            held_out += held_out_rows(*score)
            findings += _limits(label, row) + _warnings(label, row)
        progress(done, len(wanted))
    return {
        "model": frame("model", rows, site.crs),
        "held_out": frame("held_out", held_out, site.crs),
        "finding": frame("finding", findings, site.crs),
    }


def quantities(site: Site, rounds: str) -> list[tuple[str, str | None]]:
    """What can be mapped: K, then every analyte in water, in its latest or in every round.

    Parameters
    ----------
    site : Site
        Tables interval_conductivity and concentration.
    rounds : str
        "latest" or "all".

    Returns
    -------
    list of (str, str or None)
        Quantity and round.
    """
    found: list[tuple[str, str | None]] = []
    if len(site.table("interval_conductivity")):
        found.append((K, None))
    water = site.concentration[site.concentration["medium"] == "water"]
    for analyte, group in water.groupby("analyte", sort=True):
        ordered = rounds_in_order(group)
        kept = ordered if rounds == "all" else ordered[-1:]
        found += [(str(analyte), str(name)) for name in kept]
    return found


def field_or_reason(
    common: tuple[Site, Mapping[str, Any]], wanted: tuple[str, str | None]
) -> tuple[dict[str, Any], Score] | DataError:
    """The field of a quantity and its score, or why there is none.

    With or without units, as asked, or as predicts better.

    Parameters
    ----------
    common : tuple of Site and Mapping
        The site and the settings of the layer.
    wanted : tuple of str and str or None
        Quantity and round.

    Returns
    -------
    tuple or DataError
        A row of table `model`, and what it rests on with its score.
    """
    site, settings = common
    quantity, round_name = wanted
    try:
        plain = evidence_of(site, quantity, round_name)
        if quantity != K:
            _refuse_few(plain)
        surfaces, geology = unit_surfaces(site), str(settings["geology"])
        asked = geology == "units" or (geology == "auto" and quantity == K)
        if surfaces is None or not asked:
            model, score = _fit(site, plain, settings)
            return _row(plain, model, score), (plain, score)
        within = plain.within(surfaces)
        apart = _fit(site, within, settings)
        if geology == "auto":
            through = _fit(site, plain, settings)
            if not _better(apart[1], through[1], plain.in_one_unit(surfaces)):
                return _row(plain, *through), (plain, through[1])
        row = _row(within, *apart)
        words = (row["warnings"] or "", *_without_data(within, surfaces))
        told = {**row, "geology": "units", "warnings": joined(words)}
        return told, (within, apart[1])
    except DataError as error:
        return error


def _fit(
    site: Site, evidence: Evidence, settings: Mapping[str, Any]
) -> tuple[kriging.Model, kriging.CrossValidation]:
    """A model of some evidence, and its score."""
    quantity = evidence.quantity
    afford_data(len(evidence.data), f"a field of {quantity}")
    mean = str(settings["trend_k"] if quantity == K else settings["trend"])
    seed, prior = [int(settings["seed"]), *quantity.encode()], _prior(site)

    def fitted() -> tuple[kriging.Model, kriging.CrossValidation]:
        rng = np.random.default_rng(seed)
        model = kriging.fit(evidence.data, prior=prior, mean=mean, rng=rng)
        return model, kriging.cross_validate(model)

    if evidence.data.strata is not None:  # its surfaces need not repeat to the last bit
        return fitted()
    return tuple(remembered((evidence.data, prior, mean, seed), fitted, _form(evidence.data)))


def _form(data: kriging.Data) -> Form:
    """How a model and its score are remembered: the text that is stored, and a record."""
    scores = of_records("score", (kriging.CrossValidation,))

    def write(made: tuple[kriging.Model, kriging.CrossValidation]) -> Content | None:
        score = scores.write(made[1])
        return None if score is None else ([kriging.to_json(made[0]), score[0]], score[1])

    def read(found: Content) -> tuple[kriging.Model, kriging.CrossValidation]:
        (text, score), arrays = found
        return kriging.from_json(text, data), scores.read((score, arrays))

    return Form("model", ("kriging",), write, read)


def _better(
    one: kriging.CrossValidation, other: kriging.CrossValidation, fair: NDArray[np.bool_]
) -> bool:
    """Whether one predicts the tests better that count alike in both."""
    return bool(one.log_density[fair].sum() > other.log_density[fair].sum())


def _without_data(evidence: Evidence, surfaces: UnitSurfaces) -> list[str]:
    """A warning for every unit in which nothing was measured."""
    met = set(surfaces.number(evidence.data.support.centre).tolist())
    return [
        f"no data in unit {name}: its level is guessed from the other units"
        for number, name in enumerate(surfaces.names)
        if number not in met
    ]


def _no_units(site: Site, geology: str) -> list[dict[str, str]]:
    """A finding where units are asked for and none are known."""
    if geology != "units" or unit_surfaces(site) is not None:
        return []
    return [
        finding(
            "model",
            "geology",
            "no units are correlated between boreholes: the fields run through all ground",
            what_to_do="List the units of the lithology from top to bottom under [geology] units.",
        )
    ]


def _prior(site: Site) -> kriging.Prior:
    """Weak priors; the long axis lies along the measured flow, if there is one."""
    flow = site.table("flow")
    if flow.empty or number(flow.iloc[0]["azimuth_deg"]) is None:
        return kriging.Prior()
    spread = number(flow.iloc[0]["azimuth_sd_deg"])
    return kriging.Prior(
        azimuth_deg=float(flow.iloc[0]["azimuth_deg"]),
        azimuth_sd_deg=max(LEAST_SPREAD_DEG, UNKNOWN_DIRECTION_DEG if spread is None else spread),
    )


def _row(
    evidence: Evidence, model: kriging.Model, score: kriging.CrossValidation
) -> dict[str, Any]:
    fitted = model.parameters
    return {
        "quantity": evidence.quantity,
        "round": evidence.round,
        "unit": evidence.unit,
        "transform": "log10",
        "trend": fitted.mean,
        "geology": "none",
        "covariance": fitted.covariance,
        "sill": fitted.sill,
        "nugget": fitted.nugget,
        "length_along_m": fitted.length_along_m,
        "length_across_m": fitted.length_across_m,
        "length_vertical_m": fitted.length_vertical_m,
        "azimuth_deg": fitted.azimuth_deg,
        "dip_deg": fitted.dip_deg,
        "data_count": len(evidence.intervals),
        "nondetect_count": evidence.nondetects,
        "borehole_count": len(set(evidence.boreholes)),
        "log_score": score.log_score,
        "log_score_constant": _known(score.log_score_constant),
        "shown_as": "field" if evidence.quantity == K or score.structure else "limits",
        "rmse_log10": float(np.sqrt(np.nanmean(np.square(score.residual))))
        if np.isfinite(score.residual).any()
        else None,
        "coverage_50": score.coverage_50,
        "coverage_80": score.coverage_80,
        "coverage_95": score.coverage_95,
        "warnings": joined(model.warnings),
        "model": kriging.to_json(model),
    }


def _known(number: float) -> float | None:
    """A number, or None for one that was not asked for."""
    return number if np.isfinite(number) else None


def _refuse_few(evidence: Evidence) -> None:
    """A handful of detections is reported as it is: any field of them would be made up."""
    seen = len(evidence.intervals) - evidence.nondetects
    if not seen or seen >= FEWEST_DETECTED:
        return  # none at all has words of its own
    value = np.asarray(evidence.data.value)
    best = int(np.nanargmax(value))
    raise DataError(
        "field data",
        f"{seen} detected of {len(value)} intervals, the highest {10.0 ** value[best]:.3g} "
        f"{evidence.unit} in interval {evidence.intervals[best]}",
        f"at least {FEWEST_DETECTED} detected, for a volume, a discharge or a place to drill",
        "Report the values and their places; test the zones next to them.",
    )


def _refused(label: str, error: DataError) -> dict[str, str]:
    problem = error.problem
    return finding(
        "model",
        label,
        f"no field: found {problem.found}, expected {problem.expected}",
        what_to_do=problem.advice,
    )


def _limits(label: str, row: Mapping[str, Any]) -> list[dict[str, str]]:
    """Said at the top: a field that predicts nothing is not shown as one."""
    if row["shown_as"] != "limits":
        return []
    return [
        finding(
            "model",
            label,
            f"no map of {label}: from the other boreholes its results are predicted no better than "
            "by one level for all places; neighbours differ as far ones do, as in fractures or "
            "where holes stand too far apart",
            what_to_do="Rely on the measured intervals and on the profiles, whose envelope is "
            "wide; test between holes before a plume is drawn.",
            severity="serious",
        )
    ]


def _warnings(label: str, row: Mapping[str, Any]) -> list[dict[str, str]]:
    if row["warnings"] is None:
        return []
    return [
        finding(
            "model",
            label,
            str(row["warnings"]),
            what_to_do="Read maps of this field with that in mind.",
            severity="note",
        )
    ]


PLUGIN = Layer(
    name="model",
    summary="fitted and cross-validated fields of log10 K and of each analyte",
    reads=(
        "borehole",
        "survey",
        "interval",
        "interval_conductivity",
        "concentration",
        "flow",
        "hydro_unit",
    ),
    writes=("model", "held_out"),
    compute=compute,
    settings=(
        Setting(
            "trend",
            "stack",
            "",
            "Form of the mean of log10 concentration",
            allowed=("constant", "quadratic", "plume", "stack", "cautious"),
        ),
        Setting(
            "trend_k", "constant", "", "Form of the mean of log10 K", ("constant", "quadratic")
        ),
        Setting(
            "geology",
            "auto",
            "",
            "Whether fields stop at the surfaces between hydrostratigraphic units: none, all of "
            "them (units), or K where it then predicts held-out boreholes better (auto)",
            allowed=("none", "auto", "units"),
        ),
        Setting("rounds", "latest", "", "Rounds to map", allowed=("latest", "all")),
        Setting("seed", 20260101, "1", "Seed of everything drawn at random", low=0),
    ),
)
