"""The sheet of a cross-validation, from what the site file keeps of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from geoprofile.drawing.document import document_of
from geoprofile.errors import DataError
from geoprofile.products.model.figure import HALF_80, validation_figure
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class HeldOut:
    """Predicted and measured values, arrays (n,) in log10 of the unit; coverages are shares [-]."""

    mean: Array
    sd: Array
    residual: Array
    position: Array
    limits: Array
    coverage_50: float
    coverage_80: float
    coverage_95: float


Draw: TypeAlias = Callable[[Path], tuple[Path, ...]]


def held_out_jobs(site: Site) -> list[tuple[str, str, Draw]]:
    """The sheets of all models."""

    def job(quantity: str, round_name: str | None) -> tuple[str, str, Draw]:
        name = " ".join(filter(None, ("held out", quantity, round_name)))
        what = f"the cross-validation of {quantity}"
        return what, name, lambda path: held_out_figure(site, quantity, round_name, path)

    return [job(r["quantity"], r["round"]) for r in records_of(site.table("model"))]


def held_out_figure(
    site: Site,
    quantity: str,
    round_name: str | None,
    path: str | Path,
    formats: Sequence[str] = ("png", "svg"),
) -> tuple[Path, ...]:
    """Draw each value beside what the other boreholes predict of it.

    Parameters
    ----------
    site : Site
        Tables held_out and model.
    quantity, round_name : str, str or None
        As in the table `model`.
    path : str or Path
        Of the files, without suffix.
    formats : sequence of str
        png, svg or pdf.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    DataError
        Nothing was held out of that model.
    """
    rows = [r for r in records_of(site.table("held_out")) if _is(r, quantity, round_name)]
    models = [r for r in records_of(site.table("model")) if _is(r, quantity, round_name)]
    rows = [r for r in rows if r["predicted_median"] and (r["measured"] or r["limit"])]
    if not rows or not models:
        raise DataError(
            f"model of {quantity}",
            "no held-out values",
            "a model that was cross-validated",
            "Compute it again: geoprofile interpolate SITE --again.",
        )
    found = held_out_of(rows, models[0])
    named = f"{quantity}, {round_name}" if round_name else quantity
    return validation_figure(
        found,
        named,
        str(rows[0]["unit"]),
        path,
        limits=found.limits,
        formats=formats,
        document=document_of(site),
    )


def held_out_of(rows: Sequence[dict[str, Any]], model: dict[str, Any]) -> HeldOut:
    """Rows of the table `held_out` as arrays.

    Parameters
    ----------
    rows : sequence of dict
        Of one model; positive values [its unit].
    model : dict
        Its row, with the coverages.

    Returns
    -------
    HeldOut
        In log10 of the unit.
    """
    ends = [_log10(rows, end) for end in ("predicted_low", "predicted_high")]
    mean, sd = _log10(rows, "predicted_median"), (ends[1] - ends[0]) / (2 * HALF_80)
    residual = _log10(rows, "measured") - mean
    limits = np.where(np.isfinite(residual), np.nan, _log10(rows, "limit"))
    told = (model[f"coverage_{c}"] for c in (50, 80, 95))
    coverages = (np.nan if share is None else float(share) for share in told)
    position = np.asarray(ndtr(residual / sd), dtype=np.float64)
    return HeldOut(mean, sd, residual, position, limits, *coverages)


def _is(row: dict[str, Any], quantity: str, round_name: str | None) -> bool:
    return bool(row["quantity"] == quantity and row["round"] == round_name)


def _log10(rows: Sequence[dict[str, Any]], column: str) -> Array:
    values = np.array([r[column] if r[column] else np.nan for r in rows], dtype=np.float64)
    return np.asarray(np.log10(values), dtype=np.float64)
