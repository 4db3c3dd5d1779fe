"""A fitted model as text and back."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError
from geoprofile.kriging.covariance.data import CrossValidation, Data, Parameters, Prior
from geoprofile.kriging.fit.large import MOST_WHOLE
from geoprofile.kriging.predict.means import mean_of
from geoprofile.kriging.predict.model import Model
from geoprofile.kriging.predict.plume_shape import Plume
from geoprofile.kriging.predict.predictor import Member, PlumeMember

Array = NDArray[np.float64]

FORM = 1


def fingerprint(data: Data) -> str:
    """A digest of everything the fit saw of the data.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    digest = hashlib.sha256()
    for line in data.support.lines:
        digest.update(np.ascontiguousarray(line).tobytes())
    for column in (data.value, data.variance, data.upper, data.lower, data.group):
        digest.update(np.ascontiguousarray(column).tobytes())
    for surface in () if data.strata is None else (data.strata.ground, *data.strata.contacts):
        # To a millimetre: the solution of a surface need not repeat to the last bit.
        for numbers in (surface.xy, surface.at(surface.xy)):
            digest.update((np.round(numbers, 3) + 0.0).tobytes())
    return digest.hexdigest()


def to_json(model: Model) -> str:
    """A fitted model as text.

    Parameters
    ----------
    model : Model
        Fitted.

    Returns
    -------
    str
        JSON of the prior, and of each member its weight, parameters and draws.
    """
    missing = model.data.censored
    members = [
        {
            "weight": weight,
            "parameters": asdict(member.parameters),
            "draws": member.values.shape[1],
            "drawn": _packed(member.values[missing]),
            "shapes": _packed(member.vectors) if isinstance(member, PlumeMember) else "",
            "solution": _solution(member),
        }
        for weight, member in zip(model.weights, model.members, strict=True)
    ]
    head = {"form": FORM, "data": fingerprint(model.data), "mean": model.mean, "seed": model.seed}
    body = {"prior": asdict(model.prior), "members": members, "warnings": model.warnings}
    return json.dumps(head | body | {"left_out": _scores(model.left_out)})


def from_json(text: str, data: Data) -> Model:
    """The model of `to_json`, if the data are those it was fitted to.

    Parameters
    ----------
    text : str
        As written.
    data : Data
        Shape (n,) [log10 unit].

    Returns
    -------
    Model
        Predicting as before.

    Raises
    ------
    DataError
        The data are not those of the fit.
    """
    stored = json.loads(text)
    if stored.get("form") != FORM or stored.get("data") != fingerprint(data):
        raise DataError(
            "stored field model",
            "other data than it was fitted to",
            "the same supports, values and limits",
            "Fit the field again with geoprofile interpolate.",
        )
    prior = Prior(**stored["prior"])
    members = tuple(_member(entry, data, prior) for entry in stored["members"])
    return Model(
        data=data,
        prior=prior,
        mean=stored["mean"],
        members=members,
        weights=tuple(entry["weight"] for entry in stored["members"]),
        warnings=tuple(stored["warnings"]),
        seed=stored["seed"],
        left_out=_scores_back(stored.get("left_out"), data),
    )


def _member(entry: dict[str, Any], data: Data, prior: Prior) -> Member | PlumeMember:
    """One member from its stored entry."""
    draws = int(entry["draws"])
    stored = {**entry["parameters"], "shape": tuple(entry["parameters"]["shape"])}
    parameters = Parameters(**stored)
    values = np.repeat(np.asarray(data.value)[:, None], draws, axis=1)
    values[data.censored] = _unpacked(entry["drawn"], draws)
    mean = mean_of(parameters, data, prior)
    if isinstance(mean, Plume):
        vectors = _unpacked(entry["shapes"], len(parameters.shape))
        return PlumeMember(data, parameters, mean, values, vectors)
    member = Member(data, parameters, mean, values)
    solution = entry.get("solution", ())
    if solution:
        count = len(member.mean.precision(parameters.sill))
        member.recall(*map(_unpacked, solution, (draws, draws, count)))
    return member


def _solution(member: Member | PlumeMember) -> list[str]:
    """What takes long to solve for when data are many: weights, coefficients, their covariance."""
    if len(member.data) <= MOST_WHOLE or isinstance(member, PlumeMember):
        return []
    member.prepare(exact=False)
    parts = (member.duals, member.coefficients, member.system.coefficient_covariance)
    return [_packed(part) for part in parts]


def _scores(found: CrossValidation | None) -> dict[str, Any] | None:
    """Scores of halves left out as text and numbers; the boreholes are those of the data."""
    if found is None:
        return None
    kept = {f.name: getattr(found, f.name) for f in fields(found) if f.name != "group"}
    return {k: _packed(v) if isinstance(v, np.ndarray) else v for k, v in kept.items()}


def _scores_back(stored: dict[str, Any] | None, data: Data) -> CrossValidation | None:
    """The scores of `_scores`."""
    if stored is None:
        return None
    columns: dict[str, Any] = {
        k: _unpacked(v, 1)[:, 0] if isinstance(v, str) else v for k, v in stored.items()
    }
    return CrossValidation(group=np.asarray(data.group), **columns)


def _packed(numbers: Array) -> str:
    """Numbers as text, every bit kept."""
    return base64.b64encode(np.ascontiguousarray(numbers).tobytes()).decode()


def _unpacked(text: str, columns: int) -> Array:
    """Numbers from text, shape (rows, columns)."""
    return np.frombuffer(base64.b64decode(text), dtype=float).reshape(-1, columns).copy()
